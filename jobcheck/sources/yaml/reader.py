"""YAML to plain values and a compact table of places, in one loop over the parser's events."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from jobcheck.findings import Finding, fault
from jobcheck.sources.yaml.places import MERGE, NodeTable
from jobcheck.sources.yaml.scalars import Scalar, resolve
from jobcheck.text import NotUnderstood, Text

try:
    from ruamel.yaml.cyaml import CParser  # type: ignore[attr-defined]
    from ruamel.yaml.error import YAMLError
    from ruamel.yaml.events import (
        AliasEvent,
        DocumentStartEvent,
        MappingEndEvent,
        MappingStartEvent,
        ScalarEvent,
        SequenceEndEvent,
        SequenceStartEvent,
        StreamEndEvent,
    )
except ImportError as error:  # pragma: no cover - tried by hand in an environment without clib
    raise RuntimeError(
        "the YAML parser is not installed; install it with: "
        "python -m pip install 'ruamel.yaml.clib>=0.2.15'"
    ) from error

DEEPEST = 60
MOST_REPEATED = 200_000
_CORE = "tag:yaml.org,2002:"
_TAGGED: dict[str, tuple[type, ...]] = {
    _CORE + "int": (int,),
    _CORE + "float": (int, float),
    _CORE + "bool": (bool,),
    _CORE + "null": (type(None),),
}


class Document(NamedTuple):
    """One YAML file as it was read: plain values and the places of its nodes."""

    plain: dict[str, Any]
    table: NodeTable


def read_yaml(data: bytes, file: str, text_keys: frozenset[str] = frozenset()) -> Document:
    """Read one YAML document whose root is a mapping.

    Plain scalars under a key of `text_keys` stay as they are written.

    Raises:
        NotUnderstood: with the one fault that stopped the reading.
    """
    text = Text(data, file)
    builder = _Builder(text, text_keys)
    try:
        builder.run(CParser(data))
    except YAMLError as error:
        raise NotUnderstood(_syntax_fault(error, text)) from None
    plain = builder.root
    if not isinstance(plain, dict):
        what = "is empty" if plain is None else "does not hold a mapping"
        problem = fault(
            text.place(0, 0),
            "yaml-malformed",
            f"{file} {what}.",
            "Begin it with `describes:` and its kind, then `edition: 1`.",
        )
        raise NotUnderstood(problem)
    return Document(plain, builder.table)


class _Builder:
    """Builds plain values and the node table while events arrive."""

    def __init__(self, text: Text, text_keys: frozenset[str]) -> None:
        self.text = text
        self.text_keys = text_keys
        self.table = NodeTable(text)
        self.root: Any = None
        self.anchors: dict[str, int] = {}
        self.open_anchors: dict[int, str] = {}
        self.sizes: dict[int, int] = {}
        self.repeated = 0
        self.spelled: dict[str, Scalar] = {}
        self.keys: dict[str, str] = {}
        self.documents = 0

    def fail(self, start: int, end: int, rule: str, says: str, do: str) -> NotUnderstood:
        return NotUnderstood(fault(self.text.place(start, end), rule, says, do))

    def run(self, parser: Any) -> None:
        """Consume all events: the one hot loop of reading, kept flat for speed."""
        table = self.table
        starts, ends, values = table.starts, table.ends, table.values
        spelled, keys, text_keys = self.spelled, self.keys, self.text_keys
        get_event = parser.get_event
        stack: list[tuple[Any, bool, str | None, int]] = []
        container: Any = None
        is_mapping = False
        key: str | None = None
        value: Any = None
        unknown = object()
        node = opened = -1
        while True:
            event = get_event()
            kind = type(event)
            if kind is ScalarEvent:
                node = len(values)
                starts.append(event.start_mark.index)
                ends.append(event.end_mark.index)
                text = event.value
                if event.anchor is not None:
                    self.anchors[event.anchor] = node
                if is_mapping and key is None:
                    key = keys.get(text)
                    if key is None or key in container or not event.implicit[0]:
                        key = self._key(event, node, text, container)
                    values.append(key)
                    continue
                if not event.implicit[0]:
                    value = self._special(event, node)
                elif key in text_keys and text:
                    value = text
                else:
                    value = spelled.get(text, unknown)
                    if value is unknown:
                        value = spelled[text] = self._resolve(text, node)
                    if value is None:
                        table.empty.append(node)
                values.append(value)
                if is_mapping and key is not MERGE:
                    container[key] = value
                    key = None
                    continue
            elif kind is MappingStartEvent or kind is SequenceStartEvent:
                self._may_open(event, is_mapping and key is None, len(stack))
                value = {} if kind is MappingStartEvent else []
                node = self._open(event, value)
            elif kind is MappingEndEvent or kind is SequenceEndEvent:
                self._close(event, opened)
                container, is_mapping, key, opened = stack.pop()
                continue
            elif kind is AliasEvent:
                value = self._alias(event, is_mapping and key is None)
                node = len(values) - 1
            elif kind is StreamEndEvent:
                return
            else:
                self._may_begin(event, kind is DocumentStartEvent)
                continue
            if container is None:
                self.root = value
            elif not is_mapping:
                container.append(value)
            elif key is MERGE:
                table.merges.setdefault(opened, []).append(node)
            else:
                container[key] = value
            # a list in a list, and the scalars of a list, keep the key of the list
            inner, key = key, None if is_mapping else key
            if kind is MappingStartEvent or kind is SequenceStartEvent:
                stack.append((container, is_mapping, key, opened))
                container, is_mapping, opened = value, kind is MappingStartEvent, node
                key = None if is_mapping else inner

    def _open(self, event: Any, value: Any) -> int:
        table = self.table
        node = len(table.values)
        table.starts.append(event.start_mark.index)
        table.ends.append(event.end_mark.index)
        table.values.append(value)
        if event.anchor is not None:
            self.open_anchors[node] = event.anchor
            self.anchors.pop(event.anchor, None)
        return node

    def _close(self, event: Any, node: int) -> None:
        table = self.table
        table.ends[node] = event.end_mark.index
        table.closes[node] = len(table.values)
        if node in table.merges:
            self._merge(node)
        if node in self.open_anchors:
            self.anchors[self.open_anchors.pop(node)] = node

    def _may_begin(self, event: Any, is_document: bool) -> None:
        self.documents += is_document
        if self.documents > 1:
            at = event.start_mark.index
            raise self.fail(
                at,
                at,
                "yaml-malformed",
                f"{self.text.file} holds a second document.",
                "Write one document a file.",
            )

    def _may_open(self, event: Any, as_key: bool, depth: int) -> None:
        start, end = event.start_mark.index, event.end_mark.index
        if as_key:
            raise self.fail(
                start,
                end,
                "yaml-malformed",
                "A mapping or list is in the place of a key.",
                "Write a plain word as the key; quote text that begins with { or [.",
            )
        if depth >= DEEPEST:
            raise self.fail(
                start,
                end,
                "yaml-malformed",
                f"Values are nested more than {DEEPEST} deep.",
                "A description nests less than ten deep: restore the file.",
            )
        if event.tag is not None and event.tag not in (_CORE + "map", _CORE + "seq", "!"):
            raise self._tag_refused(event)

    def _tag_refused(self, event: Any) -> NotUnderstood:
        return self.fail(
            event.start_mark.index,
            event.end_mark.index,
            "yaml-malformed",
            f"The tag {event.tag} means nothing in a description.",
            "Remove the tag.",
        )

    def _key(self, event: Any, node: int, text: str, container: dict[str, Any]) -> str:
        if event.tag is not None and event.tag not in (_CORE + "str", "!"):
            raise self._tag_refused(event)
        if text == "<<" and event.implicit[0]:
            return MERGE
        if text in container:
            first = self.table.line(self._first(container, text))
            raise self.fail(
                self.table.starts[node],
                self.table.ends[node],
                "key-repeated",
                f"The key {text} is twice in one mapping, first in line {first}.",
                "Keep one of the two.",
            )
        # one object for all keys of one spelling: keys are half of a large file
        return text if text == "<<" else self.keys.setdefault(text, text)

    def _first(self, container: dict[str, Any], text: str) -> int:
        """Return the first node of a key; only a fault needs this search."""
        values = self.table.values
        opened = next(n for n in range(len(values) - 1, -1, -1) if values[n] is container)
        node = opened + 1
        while values[node] != text:
            node = self.table.after(node + 1)
        return node

    def _resolve(self, text: str, node: int) -> Scalar:
        try:
            return resolve(text)
        except ValueError as error:
            raise self.fail(
                self.table.starts[node],
                self.table.ends[node],
                "number-wrong",
                f"{str(error)[0].upper()}{str(error)[1:]}.",
                "Write a plain finite number, or quote it where it is text.",
            ) from None

    def _special(self, event: Any, node: int) -> Scalar:
        """Return the value of a quoted, block or tagged scalar."""
        text: str = event.value
        if event.tag is None or event.tag in ("!", _CORE + "str"):
            return text
        value = self._resolve(text, node)
        wanted = _TAGGED.get(event.tag)
        if wanted is None or type(value) not in wanted:
            raise self._tag_refused(event)
        return value

    def _alias(self, event: Any, as_key: bool) -> Any:
        target = self.anchors.get(event.anchor)
        start, end = event.start_mark.index, event.end_mark.index
        table = self.table
        node = len(table.values)
        table.starts.append(start)
        table.ends.append(end)
        if target is None or as_key:
            unfinished = event.anchor in self.open_anchors.values()
            raise self.fail(
                start,
                end,
                "yaml-malformed",
                f"*{event.anchor} is inside the value that it repeats."
                if unfinished
                else f"*{event.anchor} is in the place of a key."
                if target is not None
                else f"*{event.anchor} repeats nothing: no &{event.anchor} is above it.",
                "Write the value itself.",
            )
        self._count(self._size(target), start, end)
        table.targets[node] = target
        table.values.append(table.values[target])
        return table.values[target]

    def _size(self, node: int) -> int:
        """Return how many values a node has, aliases expanded."""
        table = self.table
        if node not in self.sizes:
            inside = range(node + 1, table.after(node))
            self.sizes[node] = (
                len(inside)
                + 1
                + sum(self._size(table.targets[n]) for n in inside if n in table.targets)
            )
        return self.sizes[node]

    def _count(self, size: int, start: int, end: int) -> None:
        self.repeated += size
        if self.repeated > MOST_REPEATED:
            raise self.fail(
                start,
                end,
                "yaml-malformed",
                f"Aliases repeat more than {MOST_REPEATED:,} values.",
                "Write fewer aliases.",
            )

    def _merge(self, node: int) -> None:
        """Give a mapping the keys that it merges and does not have of its own."""
        table = self.table
        mapping = table.values[node]
        for source in table.merged(node):
            value = table.values[source]
            if not isinstance(value, dict):
                raise self.fail(
                    table.starts[source],
                    table.ends[source],
                    "yaml-malformed",
                    "<< merges something that is not a mapping.",
                    "Name a mapping after <<.",
                )
            self._count(len(value), table.starts[source], table.ends[source])
            for key, item in value.items():
                mapping.setdefault(key, item)


_CONTROL = re.compile("[\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff]")


def _syntax_fault(error: Any, text: Text) -> Finding:
    """Return the parser's complaint as a fault at its place."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    problem = getattr(error, "problem", None) or str(error).splitlines()[0]
    index = min(mark.index if mark else 0, len(text.text))
    control = _CONTROL.search(text.text)
    if control and mark is None:
        index = control.start()
    place = text.place(index, index)
    before = text.text[text.line_starts[place.line - 1] : index]
    if control and mark is None:
        says, do = f"The control character U+{ord(control[0]):04X} is here.", "Remove it."
    elif "\t" in before + text.text[index : index + 1] and not before.strip():
        says, do = "A tab is in the place of spaces.", "Indent with spaces."
    elif "unexpected ':'" in problem:
        says = "A colon is inside text that is not quoted."
        do = 'Quote the text, for example usb_id: "fff0:0002".'
    else:
        says = f"The YAML is malformed here: {problem}."
        do = "Look at this line and the one above: indentation, quotes, colons."
    return fault(place, "yaml-malformed", says, do)
