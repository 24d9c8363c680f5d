"""Law 3 over generated shops in many YAML styles: values change, every other byte stays."""

import copy
from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from jobcheck.description.changes import MISSING
from jobcheck.description.paths import Path
from jobcheck.sources.edits import Edit, edit_shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state import HeldFiles, State
from tests.generate import Size, make_files
from tests.write_yaml import Style

FEW = range(40)
MANY = range(1000, 6000)
_NAMES_FILES = ("file", "describes", "edition", "units")
_TEXTS = ("x", "yes", "0603", "a: b", "# c", "it's", '"q"', "µ", "k-1", "a, b", "[", "- x", "1e3")


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


def check_laws(seed: int) -> None:
    good, draw = some_shop(seed), Random(seed)
    assert good.faults == ()
    edits = drawn_edits(good, draw)
    after = edited(good, edits)
    wanted = copy.deepcopy(plain_of(good))
    for path, value in edits.items():
        put(wanted, path, value)
    assert plain_of(after) == wanted
    check_untouched_lines(good, after, edits)
    back = {path: plain_at_or_missing(plain_of(good), path) for path in edits}
    for name, data in bytes_of(edited(after, back, good)).items():
        assert data.decode().splitlines(keepends=True) == bytes_of(good)[name].decode().splitlines(
            keepends=True
        ), (name, edits)


def plain_at_or_missing(plain: Any, path: Path) -> Any:
    try:
        return at(plain, path)
    except KeyError:
        return MISSING


def check_untouched_lines(before: Reading, after: Reading, edits: dict[Path, Any]) -> None:
    """Every line that no edited entry stands in is still there, and in the same order."""
    touched = set()
    for path in edits:
        place, last = entry_lines(before, path)
        touched |= {(place.file, line) for line in range(place.line, last + 1)}
        if at(plain_of(after), path[:-1]) == {}:  # the key of what was emptied says so now
            above = before.places.key_of(path[:-1]) or place
            touched.add((above.file, above.line))
    for name, data in bytes_of(before).items():
        kept = [
            line.rstrip(b"\r\n")
            for number, line in enumerate(data.splitlines(keepends=True), 1)
            if (name, number) not in touched
        ]
        left = iter([line.rstrip(b"\r\n") for line in bytes_of(after)[name].splitlines()])
        for line in kept:
            assert line in left, f"{name}: {line!r} went, or moved"
        assert data[:3] == bytes_of(after)[name][:3]
        assert data.endswith(b"\n") == bytes_of(after)[name].endswith(b"\n")
        assert (b"\r\n" in data) == (b"\r\n" in bytes_of(after)[name])


def entry_lines(reading: Reading, path: Path) -> tuple[Any, int]:
    """Return where an entry begins and its last line."""
    place = reading.places.key_of(path) or reading.places.of(path)
    value = plain_at_or_missing(plain_of(reading), path)
    last = place.line
    if isinstance(value, dict):
        last = max([last, *(entry_lines(reading, (*path, key))[1] for key in value)])
    return place, last


@pytest.mark.parametrize("seed", FEW)
def test_edits_change_what_was_asked_and_restoring_gives_the_same_bytes(seed):
    check_laws(seed)


@pytest.mark.long
def test_many_edits_change_what_was_asked_and_restoring_gives_the_same_bytes():
    for seed in MANY:
        check_laws(seed)


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
