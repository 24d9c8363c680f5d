"""Reference designators in groups: `R1, R4-R9`."""

from __future__ import annotations

import re

from jobcheck.sources.lists.words import looks_like_reference

_RANGE = re.compile(r"(\D+?)(\d+)\s*(?:-|–|—|\.\.+|\bto\b)\s*(\D*?)(\d+)")
_PARTING = re.compile(r"[,;\n]")
_WIDEST = 10_000
_LONGEST = 60


def expand(cell: str) -> list[str]:
    """Return the references that a cell lists, ranges written out.

    Raises:
        ValueError: a range runs backwards, is far too wide, or may be one reference; the message
            is a clause.
    """
    found: list[str] = []
    for piece in _pieces(cell):
        is_range = len(piece) <= _LONGEST and _RANGE.fullmatch(piece)
        found += _range(piece) if is_range else [piece]
        if len(found) > _WIDEST:
            raise ValueError(f"the cell lists more than {_WIDEST:,} references")
    return found


def _pieces(cell: str) -> list[str]:
    if _PARTING.search(cell):
        return [piece.strip() for piece in _PARTING.split(cell) if piece.strip()]
    words = cell.split()
    if len(words) > 1 and all(map(looks_like_reference, words)):
        return words
    return [cell.strip()] if cell.strip() else []


def _range(piece: str) -> list[str]:
    found = _RANGE.fullmatch(piece)
    assert found is not None
    prefix, first, other, last = (part.strip() for part in found.groups())
    if not other:
        raise ValueError(
            f"{piece!r} may be a range or one reference; write {prefix}{first}-"
            f"{prefix}{last} for a range"
        )
    if other != prefix or int(last) < int(first):
        raise ValueError(f"{piece!r} is not a range from a lower to a higher number")
    if int(last) - int(first) >= _WIDEST:
        raise ValueError(f"{piece!r} would be {int(last) - int(first) + 1:,} references")
    width = len(first) if first.startswith("0") else 0
    return [f"{prefix}{number:0{width}d}" for number in range(int(first), int(last) + 1)]
