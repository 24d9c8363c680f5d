"""XML: addresses are XPath 1.0 (W3C); values are attributes and elements with only text.

The parser reads only the file: no network, no external entity, no document type with
declarations. Places come from a second pass with expat, only when requested.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any
from xml.parsers import expat
from xml.sax.saxutils import escape as escape_text

from lxml import etree

from jobcheck.sources.bridge.source import Hit, MapWrong, Native, Slot, Source

_DECLARED = re.compile(rb"""\s*<\?xml[^>]*?\bencoding\s*=\s*["']([A-Za-z0-9._-]+)""")
_TOKEN = re.compile(r"&[^;&\s]{1,12};|\r\n|.", re.S)
_TAG_NAME = re.compile(r"<([^\s/>]+)")
_ATTRIBUTE = re.compile(r"""\s+([^\s=/>]+)\s*=\s*("[^"]*"|'[^']*')""")
_ATTRIBUTE_STEP = re.compile(r"(?:(?P<holder>.+)/)?@(?P<name>[A-Za-z_][\w.-]*)")
_ELEMENT_STEP = re.compile(r"(?:(?P<holder>.*[^/])/)?(?P<name>[A-Za-z_][\w.-]*)")
_TAG_END = re.compile(r"\s*/?>")
_SKIPPED = re.compile(r"<!--.*?-->|<\?.*?\?>", re.S)
_CDATA = re.compile(r"<!\[CDATA\[(.*?)\]\]>", re.S)
_UNKNOWN_ENTITY = re.compile(
    r"<!--.*?-->|<!\[CDATA\[.*?\]\]>|<\?.*?\?>"
    r"|(&(?!(?:amp|lt|gt|apos|quot|#\d+|#x[0-9a-fA-F]+);)[^;\s]{0,40};?)",
    re.S,
)
_MOST_ELEMENTS = 200_000
_MOST_COMPARED = 10_000
_DISTINGUISHING = ("id", "name", "key", "label", "type", "no", "number", "index")


class _FirstElement(Exception):
    """The part of the file that may declare entities has been read."""


class XmlSource(Source):
    """One XML file."""

    def __init__(
        self,
        data: bytes,
        file: str,
        encoding: str | None = None,
        namespaces: Mapping[str, str] | None = None,
    ) -> None:
        """Parse the file.

        Raises:
            NotUnderstood: it is not XML, or declares entities.
        """
        super().__init__(data, file, encoding or _declared(data))
        self._namespaces = dict(namespaces or {})
        self._utf8 = data if self.text.encoding == "utf-8" else self.text.text.encode()
        if self.text.encoding == "utf-8" and self.text.mark:
            self._utf8 = data[self.text.mark :]
        self._refuse_many()
        self._refuse_declarations()
        parser = etree.XMLParser(
            encoding="utf-8",
            resolve_entities=False,
            no_network=True,
            load_dtd=False,
            huge_tree=False,
            remove_comments=False,
        )
        try:
            self._root = etree.fromstring(self._utf8, parser)
        except (etree.XMLSyntaxError, ValueError) as error:
            raise self._broken(error) from None
        self._refuse_references()
        self._compiled: dict[str, Any] = {}

    def _refuse_many(self) -> None:
        """Refuse more elements than are searched in seconds: each address walks through all."""
        elements = self._utf8.count(b"<") - self._utf8.count(b"</")
        if elements > _MOST_ELEMENTS:
            says = f"{self.file} has {elements:,} elements; at most {_MOST_ELEMENTS:,} are read."
            raise self.refused(0, says, "Map a smaller file of the controller.")

    def _broken(self, error: Exception) -> Exception:
        line, column = getattr(error, "position", None) or (1, 1)
        starts = self.text.line_starts
        at = min(starts[min(line, len(starts)) - 1] + max(column - 1, 0), len(self.text.text))
        why = str(error).split(", line")[0].strip() or "it is incomplete"
        return self.refused(
            at, f"{self.file} is not whole XML: {why}.", "Let the controller write it again."
        )

    def _refuse_declarations(self) -> None:
        """Read up to the first element; refuse declared entities and included files.

        Parsers expand entities in attributes despite every option, so none may exist.
        """
        parser = expat.ParserCreate("utf-8")
        declared: list[int] = []

        def declares(*_: object) -> None:
            declared.append(parser.CurrentByteIndex)

        def first(*_: object) -> None:
            raise _FirstElement

        def doctype(_name: str, _system: object, _public: object, has_subset: bool) -> None:
            if has_subset:
                declares()

        parser.StartDoctypeDeclHandler = doctype
        parser.EntityDeclHandler = declares
        parser.StartElementHandler = first
        try:
            parser.Parse(self._utf8, True)
        except _FirstElement:
            pass
        except expat.ExpatError as error:
            if not declared:
                at = self._chars([parser.ErrorByteIndex])[0]
                why = expat.ErrorString(error.code)
                says = f"{self.file} is not whole XML: {why}."
                raise self.refused(at, says, "Let the controller write it again.") from None
        if declared:
            at = self._chars([min(declared)])[0]
            says = f"{self.file} declares its own entities, which jobcheck does not read."
            raise self.refused(at, says, "Write their values directly in the file.")

    def _refuse_references(self) -> None:
        """Refuse entities that only an external document type could define."""
        about: Any = self._root.getroottree().docinfo
        if about.doctype:
            for found in _UNKNOWN_ENTITY.finditer(self.text.text):
                if found[1]:
                    says = f"{self.file} refers to an entity that it does not define: {found[1]}."
                    do = "Write its value directly in the file."
                    raise self.refused(found.start(), says, do)

    # addresses

    def find(self, address: str, inside: Hit | None = None) -> Iterator[Hit]:
        """Yield the attributes and elements at an XPath."""
        start = self._root if inside is None else inside.node
        try:
            found = self._xpath(address)(start)
        except (etree.XPathError, ValueError) as error:
            raise MapWrong(f"it is not an XPath: {error}") from None
        if not isinstance(found, list):
            raise MapWrong("it computes a value; it must lead to an attribute or an element")
        for item in found:
            yield self._hit(item)

    def _xpath(self, address: str) -> Any:
        if address not in self._compiled:
            self._compiled[address] = etree.XPath(
                address, namespaces=self._namespaces, regexp=False, smart_strings=True
            )
        return self._compiled[address]

    def _hit(self, item: Any) -> Hit:
        if isinstance(item, str):
            parent: Any = item.getparent()  # type: ignore[attr-defined]
            if item.is_attribute:  # type: ignore[attr-defined]
                name = str(item.attrname)  # type: ignore[attr-defined]
                return Hit((parent, name), _local(name), str(item))
            if item.is_tail:  # type: ignore[attr-defined]
                raise MapWrong("it leads to text beside elements; lead to an element itself")
            item = parent
        if not isinstance(getattr(item, "tag", None), str):
            raise MapWrong("it leads to a comment; it must lead to an attribute or an element")
        return self._element(item)

    def _element(self, element: Any) -> Hit:
        if any(isinstance(child.tag, str) for child in element):
            native, text = Native.BLOCK, ""
        else:
            text = (element.text or "") + "".join(child.tail or "" for child in element)
            native = Native.TEXT if text.strip() else Native.NOTHING
        return Hit((element, None), _local(element.tag), text, native, element)

    def room(self, address: str, inside: Hit | None = None) -> Slot | None:
        """Return the place for a missing attribute (after the last one) or element."""
        attribute = _ATTRIBUTE_STEP.fullmatch(address)
        found = attribute or _ELEMENT_STEP.fullmatch(address)
        if found is None:
            return None
        holders = list(self.find(found["holder"] or ".", inside))
        if len(holders) != 1 or holders[0].key[1] is not None:
            return None
        if attribute is None:
            return self._element_room(holders[0].key[0], found["name"])
        at = self._tags([holders[0].key[0]])[0]
        named = _TAG_NAME.match(self.text.text, at)
        at, quote = (named.end() if named else at), '"'
        while written := _ATTRIBUTE.match(self.text.text, at):
            at, quote = written.end(), written[2][0]
        around = (f" {found['name']}={quote}", quote)
        return Slot(at, at, _TOKEN, _attribute_escape(quote), around)

    def _element_room(self, holder: Any, name: str) -> Slot | None:
        """Return the place for a missing element of text, where a namesake of its holder has one.

        It goes where it is there: after the nearest element before it that the holder has too.
        """
        shapes = (other.find(name) for other in self._root.iter(holder.tag) if other is not holder)
        shape = next((one for one in shapes if one is not None), None)
        if shape is None or len(shape) or shape.attrib:
            return None
        before = [one.tag for one in shape.itersiblings("*", preceding=True)]
        after = next((found[-1] for tag in before if (found := holder.findall(tag))), None)
        if after is None or len(after):
            return None
        tag = self._tags([after])[0]
        text, at = self.text.text, self._tag_end(tag)
        if text[at - 2] != "/":
            at = text.index(">", text.index("</", _past(text, at))) + 1
        blank = text[len(text[:tag].rstrip()) : tag]
        return Slot(at, at, _TOKEN, escape_text, (f"{blank}<{name}>", f"</{name}>"))

    # places

    def starts(self, hits: Sequence[Hit]) -> list[int]:
        """Return the start of each value's element."""
        return self._tags([hit.key[0] for hit in hits])

    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return the slots of attributes and texts."""
        tags = self._tags([hit.key[0] for hit in hits])
        return [
            self._text_slot(hit, tag) if hit.key[1] is None else self._attribute_slot(hit, tag)
            for hit, tag in zip(hits, tags, strict=True)
        ]

    def _tags(self, elements: Sequence[Any]) -> list[int]:
        """Return the character at which the tag of each element begins."""
        wanted = set(elements)
        numbers = {
            element: number
            for number, element in enumerate(self._root.iter("*"))
            if element in wanted
        }
        starts = self._starts
        return self._chars([starts[numbers[element]] for element in elements])

    @cached_property
    def _starts(self) -> Any:
        """The byte at which each element's tag begins, in document order."""
        from array import array

        parser = expat.ParserCreate("utf-8")
        found = array("Q")
        parser.StartElementHandler = lambda _name, _attributes: found.append(
            parser.CurrentByteIndex
        )
        parser.Parse(self._utf8, True)
        return found

    def _chars(self, offsets: Sequence[int]) -> list[int]:
        """Return characters of the text by bytes of its UTF-8."""
        if self.text.is_ascii:
            return list(offsets)
        known: dict[int, int] = {}
        at = chars = 0
        for offset in sorted(set(offsets)):
            chars += len(self._utf8[at:offset].decode("utf-8", errors="replace"))
            known[offset] = chars
            at = offset
        return [known[offset] for offset in offsets]

    def _attribute_slot(self, hit: Hit, tag: int) -> Slot | None:
        text = self.text.text
        element, name = hit.key
        named = _TAG_NAME.match(text, tag)
        at = named.end() if named else tag
        while found := _ATTRIBUTE.match(text, at):
            if _full_name(found[1], element.nsmap) == name:
                quote = text[found.start(2)]
                return Slot(found.start(2) + 1, found.end(2) - 1, _TOKEN, _attribute_escape(quote))
            at = found.end()
        return None

    def _text_slot(self, hit: Hit, tag: int) -> Slot | None:
        """Return the slot of an element's text; None if comments interrupt it."""
        text = self.text.text
        at = self._tag_end(tag)
        if text[at - 2] == "/":
            name = _TAG_NAME.match(text, tag)
            around = (">", f"</{name[1] if name else hit.name}>")
            return Slot(at - 2, at, _TOKEN, escape_text, around)
        end = text.index("</", _past(text, at))
        raw = text[at:end]
        cdata = _CDATA.fullmatch(raw.strip())
        if cdata:
            lead = raw[: len(raw) - len(raw.lstrip())]
            start = at + len(lead) + len("<![CDATA[")
            end = start + len(cdata[1])
            skipped = len(lead.replace("\r\n", "\n"))
            return Slot(start, end, _TOKEN_IN_CDATA, _cdata_escape, skipped=skipped)
        if "<" in raw:
            return None
        return Slot(at, end, _TOKEN, escape_text)

    def _tag_end(self, tag: int) -> int:
        text = self.text.text
        named = _TAG_NAME.match(text, tag)
        at = named.end() if named else tag
        while found := _ATTRIBUTE.match(text, at):
            at = found.end()
        ended = _TAG_END.match(text, at)
        return ended.end() if ended else at

    # everything

    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every attribute and every text with its unique XPath."""
        yield from self._below(self._root, f"/{self._named(self._root.tag)}")

    def _below(self, element: Any, address: str) -> Iterator[tuple[str, Hit]]:
        waiting = [(element, address)]
        while waiting:
            element, address = waiting.pop()
            for name, value in element.attrib.items():
                yield f"{address}/@{self._named(name)}", Hit((element, name), _local(name), value)
            hit = self._element(element)
            if hit.native is Native.TEXT:
                yield address, hit
            children = [child for child in element if isinstance(child.tag, str)]
            if not children:
                continue
            alike = Counter(child.tag for child in children)
            predicates = _predicates(children)
            passed: Counter[str] = Counter()
            below = []
            for child in children:
                passed[child.tag] += 1
                step = self._named(child.tag)
                if alike[child.tag] > 1:
                    step += predicates.get(child, f"[{passed[child.tag]}]")
                below.append((child, f"{address}/{step}"))
            waiting += reversed(below)

    def _named(self, name: str) -> str:
        """Return a name for an XPath: with a declared prefix, else by its local name."""
        if not name.startswith("{"):
            return name
        space, _, local = name[1:].partition("}")
        prefix = next((p for p, uri in self._namespaces.items() if uri == space), None)
        return f"{prefix}:{local}" if prefix else f"*[local-name()='{local}']"


def _predicates(children: Sequence[Any]) -> dict[Any, str]:
    """Return the predicate that separates each child from its namesakes, if there is one."""
    found: dict[Any, str] = {}
    if len(children) > _MOST_COMPARED:
        return found
    names = dict.fromkeys(
        (*_DISTINGUISHING, *(name for child in children for name in child.attrib))
    )
    for name in names:
        if name.startswith("{"):
            continue
        values = Counter((child.tag, child.get(name)) for child in children)
        for child in children:
            value = child.get(name)
            quotable = value is not None and not ("'" in value and '"' in value)
            if quotable and values[child.tag, value] == 1:
                quote = '"' if "'" in value else "'"
                found.setdefault(child, f"[@{name}={quote}{value}{quote}]")
    return found


def _declared(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    found = _DECLARED.match(data[3:] if data.startswith(b"\xef\xbb\xbf") else data)
    return found[1].decode("ascii") if found else "utf-8"


def _local(name: str) -> str:
    return name.rpartition("}")[2]


def _full_name(written: str, spaces: Mapping[str | None, str]) -> str:
    prefix, colon, local = written.partition(":")
    if not colon:
        return written
    return f"{{{spaces.get(prefix, '')}}}{local}"


def _past(text: str, at: int) -> int:
    """Return the end of the CDATA, comments and instructions that begin an element's text."""
    while True:
        begins = text.find("<", at)
        found = _CDATA.match(text, begins) or _SKIPPED.match(text, begins)
        if not found:
            return at
        at = found.end()


_TOKEN_IN_CDATA = re.compile(r"\r\n|.", re.S)


def _cdata_escape(content: str) -> str:
    if "]]>" in content:
        raise ValueError("]]> cannot be in a CDATA section")
    return content


def _attribute_escape(quote: str) -> Any:
    entity = "&quot;" if quote == '"' else "&apos;"
    return lambda content: escape_text(
        content, {quote: entity, "\n": "&#10;", "\r": "&#13;", "\t": "&#9;"}
    )
