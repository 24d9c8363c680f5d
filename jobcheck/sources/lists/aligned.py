"""Which characters of aligned rows belong to which column."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from jobcheck.sources.lists.columns import DECLARABLE
from jobcheck.sources.lists.dialect import Aligned, Span, standing
from jobcheck.sources.lists.meanings import Recognised, recognise
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.refusing import fault_at
from jobcheck.text import NotUnderstood, Text

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
    """Choose how to split the aligned rows below a row of names.

    Raises:
        NotUnderstood: no split fits, or two splits give different cells.
    """
    first = recognise([re.split(r"\s{2,}", header.strip())[0]], options.columns)
    body = _data_lines(lines[at + 1 :], with_remarks=not first.has("reference"))
    if _has_nameless_column(header, body):
        raise fault_at(
            text,
            at,
            "The rows have a column without a name above it.",
            "Give it a name, or export the list with a delimiter.",
        )
    levels = [
        _ways(header, body, options, suits, by_phrase=by_phrase) for by_phrase in (True, False)
    ]
    known = [max((count for count, _ in ways), default=0) for ways in levels]
    if not any(known):
        raise _unaligned(text, header, lines, at)
    level = 0 if known[0] >= known[1] else 1
    best = [way for count, way in levels[level] if count == known[level]]
    for line in body:
        read = [way.cells(line) for way in best]
        if any(cells != read[0] for cells in read[1:]):
            raise fault_at(
                text,
                next(i for i, held in enumerate(lines) if held.rstrip("\r\n") == line),
                "The cells of this row can be split in two ways: an empty cell, or one with a "
                "blank in it.",
                "Quote it, or export the list with a delimiter.",
            )
    return best[0]


def _ways(
    header: str, body: Sequence[str], options: ListOptions, suits: Suits, *, by_phrase: bool
) -> list[tuple[int, Aligned]]:
    """Return the splits that fit, with the number of columns each recognises: characters first.

    Phrases are separated by two or more blanks, words by one.
    """
    ways = []
    columns = _character_columns(header, body, by_phrase=by_phrase)
    counted = Aligned(by_phrase=by_phrase)
    if columns:
        ways.append(Aligned(columns))
    if _counts_agree(counted, header, body):
        ways.append(counted)
    found = [(recognise(way.cells(header), options.columns), way) for way in ways]
    return [
        (sum(meaning in DECLARABLE for meaning in {**names.columns, **names.several}), way)
        for names, way in found
        if suits(names)
    ]


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


def _data_lines(lines: Sequence[str], *, with_remarks: bool = False) -> list[str]:
    """Return the lines that look like rows, up to the last of them.

    `with_remarks`: a row may begin like a comment, because its first cell is a remark.
    """
    held = [line.rstrip("\r\n") for line in lines]
    rows = [
        line
        for line in held
        if line.strip()
        and not RULED.fullmatch(line)
        and (not COMMENT.match(line) or (with_remarks and _numbers_in(line) > 1))
    ]
    numbers = list(map(_numbers_in, rows))
    last = max((i for i, count in enumerate(numbers) if count > 1), default=-1)
    return rows[: last + 1]


def _numbers_in(line: str) -> int:
    return sum(bool(NUMERIC.match(word)) for word in line.split())


def _has_nameless_column(header: str, body: Sequence[str]) -> bool:
    """Return whether aligned rows have no data below any name."""
    spans, kinds = _standing(header, body, by_phrase=True)
    names = len(Aligned(by_phrase=True).cells(header))
    return len(spans) >= names > 1 and not _merge(header, spans, kinds)


def _standing(
    header: str, body: Sequence[str], *, by_phrase: bool
) -> tuple[list[Span], list[tuple[bool, bool]]]:
    """Return the used characters: whether by the names, and by the rows."""
    spans = standing([header, *body], by_phrase=by_phrase)
    filled = standing(body, by_phrase=by_phrase)
    kinds = [
        (bool(header[a:b].strip()), any(a < end and start < b for start, end in filled))
        for a, b in spans
    ]
    return spans, kinds


def _character_columns(header: str, body: Sequence[str], *, by_phrase: bool) -> tuple[Span, ...]:
    """Return the character columns that blanks separate in every line, empty if none."""
    if any("\t" in line for line in (header, *body)):
        return ()
    spans, kinds = _standing(header, body, by_phrase=by_phrase)
    merged = _merge(header, spans, kinds)
    if not merged:
        return ()
    starts = [0, *(start for start, _ in merged[1:])]
    return tuple(zip(starts, [*starts[1:], 10**6], strict=True))


def _merge(header: str, spans: list[Span], kinds: list[tuple[bool, bool]]) -> list[Span]:
    """Join a name with the data beside it; return nothing if there are several ways."""
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
        elif at == len(spans) - 1 and all(has_data for _, has_data in kinds):
            merged.append(spans[at])  # text behind the last column
        else:
            return []
        at += 1
    return merged


def _is_name(header: str, span: Span) -> bool:
    """Return whether several words of a row of names form one name."""
    words = header[span[0] : span[1]].split()
    return len(words) > 1 and bool(recognise([" ".join(words)], {}).columns)
