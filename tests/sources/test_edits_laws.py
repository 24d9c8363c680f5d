"""Law 3 over generated shops in many YAML styles: values change, every other byte stays."""

import copy
import re
from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from jobcheck.shop.paths import Path
from jobcheck.shop.values import MISSING, same
from jobcheck.sources.edits.edits import Edit, edit_shop
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.generate import Size, make_files
from tests.support.restyle import restyle
from tests.support.write_yaml import Style

FEW = range(40)
MANY = range(1000, 6000)
_NAMES_FILES = ("file", "describes", "edition", "units")
_TEXTS = ("x", "yes", "0603", "a: b", "# c", "it's", '"q"', "µ", "k-1", "a, b", "[", "- x", "1e3")


def restyled(seed: int, links: bool = False) -> Reading:
    """A shop whose files are written in ways that only people write."""
    files = {
        name: restyle(data, seed, 40, links) if name.endswith(".yaml") else data
        for name, data in bytes_of(some_shop(seed)).items()
    }
    return read(files)


def read(files: dict[str, bytes]) -> Reading:
    return read_shop(State("now", HeldFiles(files), "shop"))


def some_shop(seed: int) -> Reading:
    size = Size(placements=6, parts=4, jobs=1 + seed % 2, inline=seed % 3 == 0)
    return read(make_files(seed, size, Style.drawn(seed)))


def plain_of(reading: Reading) -> dict[str, Any]:
    assert reading.shop is not None
    return reading.shop.plain


def values(plain: Any, path: Path = ()) -> Iterator[Path]:
    """Yield the path of every value that may be edited, mappings and lists among them."""
    for key, inner in plain.items() if isinstance(plain, dict) else ():
        if key == "shop" or (path and key in _NAMES_FILES):
            continue
        if len(path) > 1 or (path and path[0] != "jobs"):
            yield (*path, key)
        yield from values(inner, (*path, key))


def at(plain: Any, path: Path) -> Any:
    for key in path:
        plain = plain[key]
    return plain


def put(plain: dict[str, Any], path: Path, value: Any) -> None:
    """Edit plain values in place: what editing by span is compared with."""
    holder = at(plain, path[:-1])
    if value is MISSING:
        del holder[path[-1]]
    else:
        holder[path[-1]] = value


def another(value: Any, draw: Random) -> Any:
    """Draw another value of the same or of another kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return draw.choice([text for text in _TEXTS if text != value])
    if isinstance(value, list):
        longer = [*value, value[-1] if value else "x"]
        return draw.choice([value[1:], [another(item, draw) for item in value], longer]) or longer
    return draw.choice([value + 1, value / 2 + 0.125, -value - 1])


def drawn_edits(reading: Reading, draw: Random) -> dict[Path, Any]:
    """Draw edits none of which lies within another."""
    plain = plain_of(reading)
    edits: dict[Path, Any] = {}
    for path in draw.sample(list(values(plain)), draw.randint(1, 8)):
        if any(path[: len(other)] == other or other[: len(path)] == path for other in edits):
            continue
        value = at(plain, path)
        is_row = path[0] == "jobs" and len(path) > 2 and path[2] in ("placements", "bill")
        if isinstance(value, dict) and draw.random() < 0.5 and not is_row:
            edits[*path, f"new-{draw.randrange(100)}"] = draw.choice(
                [1, "a: b", [1, 2.5], {"a": 1, "b": {"c": "x", "d": {"e": 2}}}]
            )
        elif isinstance(value, dict) or draw.random() < 0.4:
            edits[path] = MISSING
        elif not is_row or not isinstance(value, (str, bool)):
            edits[path] = another(value, draw)
    return edits


def edited(reading: Reading, edits: dict[Path, Any], good: Reading | None = None) -> Reading:
    result = edit_shop(reading, [Edit(path, value) for path, value in edits.items()], good)
    return read({**bytes_of(reading), **result.files})


def bytes_of(reading: Reading) -> dict[str, bytes]:
    return {name: reading.state.files[name] for name in reading.state.files}


def check_laws(good: Reading, draw: Random, same_bytes: bool = True) -> None:
    assert good.faults == ()
    edits = drawn_edits(good, draw)
    after = edited(good, edits)
    wanted = copy.deepcopy(plain_of(good))
    for path, value in edits.items():
        put(wanted, path, value)
    assert same(plain_of(after), wanted)
    check_untouched_lines(good, after, edits)
    back = {path: plain_at_or_missing(plain_of(good), path) for path in edits}
    again = edited(after, back, good)
    assert same(plain_of(again), plain_of(good))
    if same_bytes:
        for name, data in bytes_of(again).items():
            assert data.decode().splitlines(True) == bytes_of(good)[name].decode().splitlines(True)
    else:
        check_untouched_lines(good, again, edits)


def plain_at_or_missing(plain: Any, path: Path) -> Any:
    for key in path:
        if isinstance(plain, dict) and key not in plain:
            return MISSING
        plain = plain[int(key)] if isinstance(plain, list) else plain[key]
    return plain


def check_untouched_lines(before: Reading, after: Reading, edits: dict[Path, Any]) -> None:
    """Every line that no edited entry stands in is still there, and in the same order."""
    touched = set().union(*(touched_lines(before, after, path) for path in edits))
    for name, old in bytes_of(before).items():
        new = bytes_of(after)[name]
        kept = [line for number, line in enumerate(split(old), 1) if (name, number) not in touched]
        left = iter(split(new))
        for line in kept:
            assert line in left, f"{name}: {line!r} went, or moved"
        assert old[:3] == new[:3]
        assert old.endswith((b"\n", b"\r")) == new.endswith((b"\n", b"\r"))
        for newline in (b"\r\n", b"\r", b"\n"):
            assert (newline in old) == (newline in new)


def split(data: bytes) -> list[bytes]:
    """Return lines without their breaks."""
    return re.split(rb"\r\n|\r|\n", data)


def touched_lines(before: Reading, after: Reading, path: Path) -> set[tuple[str, int]]:
    """Return the lines of an entry: in brackets those of all that stands in them."""
    above = path[:-1]
    holder = before.places.holder(path)
    if holder is None or holder[1].table is None:
        return entry_lines(before, path)
    is_emptied = plain_at_or_missing(plain_of(after), above) in ({}, MISSING)
    brackets = brackets_end(before, above)
    return entry_lines(before, above if is_emptied or brackets else path)


def brackets_end(reading: Reading, path: Path) -> int | None:
    """Return the last line of a value in brackets, None for any other."""
    _, held = reading.places.holder(path) or ("", None)
    spot = held.table.find(path[len(held.prefix) :]) if held and held.table else None
    if held is None or held.table is None or spot is None:
        return None
    text, (start, end) = held.table.text.text, held.table.span(spot.value)
    return len(split(text[:end].encode())) if text[start : start + 1] in ("{", "[") else None


def entry_lines(reading: Reading, path: Path) -> set[tuple[str, int]]:
    """Return the lines from the key of an entry to the end of its value."""
    value = plain_at_or_missing(plain_of(reading), path)
    if value is MISSING:
        return set()
    place = reading.places.of(path)
    found = reading.places.holder(path)
    first = (found[1].key_place(path[len(found[1].prefix) :]) if found else None) or place
    before = reading.state.files[place.file][: max(place.start, place.end)]
    last = max(len(split(before.rstrip())), brackets_end(reading, path) or 0)
    for key in value if isinstance(value, dict) else range(len(value) if is_list(value) else 0):
        inside = entry_lines(reading, (*path, str(key)))
        last = max([last, *(line for file, line in inside if file == place.file)])
    return {(place.file, line) for line in range(first.line, last + 1)}


def is_list(value: Any) -> bool:
    return isinstance(value, list)


@pytest.mark.parametrize("seed", FEW)
def test_edits_change_what_was_asked_and_restoring_gives_the_same_bytes(seed):
    check_laws(some_shop(seed), Random(seed))


@pytest.mark.long
def test_many_edits_change_what_was_asked_and_restoring_gives_the_same_bytes():
    for seed in MANY:
        check_laws(some_shop(seed), Random(seed))


@pytest.mark.parametrize("seed", FEW)
def test_edits_of_what_people_write_by_hand(seed):
    check_laws(restyled(seed), Random(seed), same_bytes=False)


def test_what_an_alias_shares_is_edited_for_all_or_refused():
    refused = 0
    for seed in FEW:
        try:
            check_linked(seed)
        except Shared:
            refused += 1
    assert 0 < refused < len(FEW) / 2


class Shared(Exception):
    """An edit was refused for an alias."""


def check_linked(seed: int) -> None:
    try:
        check_laws(restyled(seed, links=True), Random(seed), same_bytes=False)
    except EditRefused as error:
        if "through an alias" in str(error) or "repeats nothing" in str(error):
            raise Shared from None
        raise


@pytest.mark.long
def test_many_edits_of_what_people_write_by_hand():
    for seed in MANY:
        check_laws(restyled(seed), Random(seed), same_bytes=False)


def check_span(seed: int) -> None:
    """A scalar that changes alone changes the bytes of its place, no others."""
    reading, draw = some_shop(seed), Random(seed)
    plain = plain_of(reading)
    scalars = [p for p in values(plain) if isinstance(at(plain, p), (int, float))]
    path = draw.choice(scalars)
    place = reading.places.of(path)
    value = at(plain, path) + 1.5
    data = reading.places.held[place.file].data
    spelled = repr(value).removesuffix(".0") if place.file.endswith(".csv") else repr(value)
    expected = data[: place.start] + spelled.encode() + data[place.end :]
    assert edit_shop(reading, [Edit(path, value)]).files == {place.file: expected}


@pytest.mark.parametrize("seed", FEW)
def test_a_number_changes_by_its_span(seed):
    check_span(seed)


@pytest.mark.long
def test_many_numbers_change_by_their_span():
    for seed in MANY:
        check_span(seed)


@pytest.mark.parametrize("seed", FEW)
def test_asking_for_what_stands_changes_nothing(seed):
    reading, draw = some_shop(seed), Random(seed)
    plain = plain_of(reading)
    paths = draw.sample(list(values(plain)), 5)
    result = edit_shop(reading, [Edit(p, copy.deepcopy(at(plain, p))) for p in paths], reading)
    assert (result.files, result.lines, result.notes) == ({}, (), ())
