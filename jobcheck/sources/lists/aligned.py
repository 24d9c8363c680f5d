"""Which characters of aligned rows belong to which column."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from jobcheck.sources.lists.dialect import Aligned, Span, gutters
from jobcheck.sources.lists.meanings import Recognised, recognise
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.refusing import fault_at
from jobcheck.sources.text import NotUnderstood, Text

Suits = Callable[[Recognised], bool]
"""Whether a row of names is that of the kind of list that is read."""

COMMENT = re.compile(r"\s*(#+|//|;)")
RULED = re.compile(r"[-=_+*~.|\s]+")
NUMERIC = re.compile(r"[-+\u2212]?[.,]?\d")


def choose_columns(
    text: Text,
    header: str,
    lines: Sequence[str],
    at: int,
    options: ListOptions,
    suits: Suits,
) -> Aligned:
    """Choose how the aligned rows below a row of names are parted.

    Raises:
        NotUnderstood: no way parts them, or two ways part one of them otherwise.
    """
    body = _data_lines(lines[at + 1 :])
    ways: list[tuple[int, Aligned]] = []
    columns = _character_columns(header, body, options)
    for way in (Aligned(columns), Aligned(), Aligned(by_phrase=True)):
        is_by_characters = bool(way.columns)
        if not is_by_characters and not _counts_agree(way, header, body):
            continue
        found = recognise(way.cells(header), options.columns)
        if suits(found):
            ways.append((len(found.columns), way))
    if not ways:
        raise _unaligned(text, header, lines, at)
    most = max(known for known, _ in ways)
    best = [way for known, way in ways if known == most]
    for line in body:
        read = [way.cells(line) for way in best]
        if any(cells != read[0] for cells in read[1:]):
            raise fault_at(
                text,
                lines.index(line),
                "The cells of this row can be parted in two ways: an empty cell, or one with a "
                "blank in it.",
                "Quote it, or export the list with a delimiter.",
            )
    return best[0]


def _unaligned(text: Text, header: str, lines: Sequence[str], at: int) -> NotUnderstood:
    wanted = len(Aligned().cells(header))
    for number in range(at + 1, len(lines)):
        line = lines[number].rstrip("\r\n")
        if line in _data_lines([line]) and len(Aligned().cells(line)) != wanted:
            return fault_at(
                text,
                number,
                f"The row has {len(Aligned().cells(line))} words, the row of names has {wanted}, "
                "and the columns do not line up.",
                "Quote a cell that holds a blank, or export the list with a delimiter.",
            )
    return fault_at(text, at, "The columns do not line up.", "Export the list with a delimiter.")


def _counts_agree(way: Aligned, header: str, body: Sequence[str]) -> bool:
    wanted = len(way.cells(header))
    return all(len(way.cells(line)) == wanted for line in body)


def _data_lines(lines: Sequence[str]) -> list[str]:
    """Return the lines that look like rows: between others, from the first to the last of them."""
    held = [line.rstrip("\r\n") for line in lines]
    rows = [
        line
        for line in held
        if line.strip() and not COMMENT.match(line) and not RULED.fullmatch(line)
    ]
    numbers = [sum(bool(NUMERIC.match(word)) for word in line.split()) for line in rows]
    last = max((i for i, count in enumerate(numbers) if count > 1), default=-1)
    return rows[: last + 1]


def _character_columns(header: str, body: Sequence[str], options: ListOptions) -> tuple[Span, ...]:
    """Return the columns of characters that blanks part in every line, empty where none do."""
    spans = gutters([header, *body])
    filled = gutters(body)
    kinds = [
        (bool(header[a:b].strip()), any(a < end and start < b for start, end in filled))
        for a, b in spans
    ]
    merged = _merge(header, spans, kinds, options)
    if not merged:
        return ()
    ends = [*(start for start, _ in merged[1:]), 10**6]
    return tuple((start, end) for (start, _), end in zip(merged, ends, strict=True))


def _merge(
    header: str, spans: list[Span], kinds: list[tuple[bool, bool]], options: ListOptions
) -> list[Span]:
    """Join a name with the data beside it; nothing where that can be done in several ways."""
    merged: list[Span] = []
    at = 0
    while at < len(spans):
        named, has_data = kinds[at]
        following = kinds[at + 1] if at + 1 < len(spans) else (True, True)
        joined = (spans[at][0], spans[min(at + 1, len(spans) - 1)][1])
        is_apart = {(named, has_data), following} == {(True, False), (False, True)}
        if is_apart or (named and not has_data and _is_name(header, joined)):
            merged.append(joined)
            at += 1
        elif named and not has_data and merged and _is_name(header, (merged[-1][0], spans[at][1])):
            merged[-1] = (merged[-1][0], spans[at][1])
        elif named:
            merged.append(spans[at])
        else:
            return []
        at += 1
    return merged


def _is_name(header: str, span: Span) -> bool:
    """Tell whether several words of a row of names are one name together."""
    words = header[span[0] : span[1]].split()
    return len(words) > 1 and bool(recognise([" ".join(words)], {}).columns)
