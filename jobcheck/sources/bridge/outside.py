"""Changes in the controller's files that the map does not cover."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import SequenceMatcher

from jobcheck.sources.bridge.mapping import Mapped

_MAPPED = b"\0"
"""Replaces a mapped value, so that a change of it is not a change outside the map."""


def changes_outside(before: Mapped, after: Mapped) -> dict[str, tuple[int, ...]]:
    """Return the lines, of the file as it is after, that differ outside the map, by file.

    A line on which a mapped value came or went is left out: that value is reported itself.
    """
    found: dict[str, tuple[int, ...]] = {}
    for name in after.data:
        if name in before.data and before.data[name] != after.data[name]:
            old, new = _lines(before, after, name), _lines(after, before, name)
            if lines := tuple(_changed(old, new)):
                found[name] = lines
    return found


def _lines(mapped: Mapped, other: Mapped, name: str) -> list[bytes | None]:
    """Return a file's lines without mapped values, None for one with a value only on this side."""
    there = {target.path for target in other.targets if target.hit}
    targets = [target for target in mapped.targets if target.file == name and target.hit]
    places = mapped.places(targets)
    text, done, parts = mapped.data[name], 0, []
    for place in sorted(set(places.values()), key=lambda place: place.start):
        if place.start >= done:
            newlines = text[place.start : place.end].count(b"\n")
            parts += [text[done : place.start], _MAPPED + b"\n" * newlines]
            done = place.end
    lines: list[bytes | None] = list((b"".join(parts) + text[done:]).splitlines())
    for path, place in places.items():
        if path not in there and place.line <= len(lines):
            lines[place.line - 1] = None
    return lines


def _changed(old: list[bytes | None], new: list[bytes | None]) -> Iterator[int]:
    """Yield the numbers of new lines that differ; for lines that went, the line after them."""
    for kind, start, end, first, last in SequenceMatcher(None, old, new).get_opcodes():
        if kind == "equal":
            continue
        pairs = max(end - start, last - first)
        for number in range(pairs):
            was = old[start + number] if start + number < end else b""
            now = new[first + number] if first + number < last else b""
            if was is not None and now is not None:
                yield min(first + number, max(last, 1) - 1) + 1
