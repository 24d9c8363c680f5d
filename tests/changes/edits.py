"""Random edits of a shop's plain values, of every kind that a bad day brings."""

import copy
from collections.abc import Iterator
from random import Random
from typing import Any

from jobcheck.shop.paths import Path

Plain = dict[str, Any]

_ODD: tuple[Any, ...] = (
    None,
    {},
    [],
    "",
    0,
    -0.0,
    True,
    False,
    1,
    1.0,
    "1",
    10**400,
    1e300,
    [1, True],
)
_COLLECTIONS = ("cameras", "nozzles", "feeders", "outlines", "recognitions", "parts", "rack")
_FACTORS = (25.4, 1 / 25.4, 1000 / 25.4, 10, 0.1, 1000)


def edited_plain(plain: Plain, draw: Random, most: int = 6) -> Plain:
    """Return a copy with one edit or several."""
    result = copy.deepcopy(plain)
    for _ in range(draw.randint(1, most)):
        draw.choice(_EDITS)(result, draw)
    return result


def mappings(plain: Any, path: Path = ()) -> Iterator[tuple[Path, Plain]]:
    """Yield every mapping below a plain value that holds something."""
    if isinstance(plain, dict) and plain:
        yield path, plain
        for key, value in plain.items():
            yield from mappings(value, (*path, key))


def _somewhere(plain: Plain, draw: Random) -> tuple[Plain, str]:
    _, mapping = draw.choice(list(mappings(plain)))
    return mapping, draw.choice(list(mapping))


def _change(plain: Plain, draw: Random) -> None:
    mapping, key = _somewhere(plain, draw)
    value = mapping[key]
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if is_number and abs(value) < 10**12 and draw.random() < 0.8:
        scaled = value * draw.choice(_FACTORS)
        mapping[key] = draw.choice(
            (value + 1, -value, value + 180, value - 90, float(value), scaled)
        )
    else:
        mapping[key] = draw.choice(_ODD)


def _take_away(plain: Plain, draw: Random) -> None:
    mapping, key = _somewhere(plain, draw)
    del mapping[key]


def _add(plain: Plain, draw: Random) -> None:
    mapping, _ = _somewhere(plain, draw)
    mapping[draw.choice(["new", "x", "__x", "f2", "R 1", "note"])] = copy.deepcopy(
        draw.choice((*_ODD, {"x": 1}, {"slot": 1, "part": "a", "remaining": 3}))
    )


def _rename(plain: Plain, draw: Random) -> None:
    mapping, key = _somewhere(plain, draw)
    mapping[draw.choice([f"{key}-2", "other"])] = mapping.pop(key)


def _entries(plain: Plain, draw: Random) -> Plain | None:
    collection = plain.get(draw.choice(_COLLECTIONS))
    return collection if isinstance(collection, dict) and len(collection) > 1 else None


def _exchange(plain: Plain, draw: Random) -> None:
    collection = _entries(plain, draw)
    if collection is None:
        return
    one, other = draw.sample(list(collection), 2)
    if draw.random() < 0.5:
        collection[one], collection[other] = collection[other], collection[one]
        return
    a, b = collection[one], collection[other]
    both = [key for key in a if key in b] if isinstance(a, dict) and isinstance(b, dict) else []
    if both:
        key = draw.choice(both)
        a[key], b[key] = b[key], a[key]


def _reorder(plain: Plain, draw: Random) -> None:
    _, mapping = draw.choice(list(mappings(plain)))
    items = list(mapping.items())
    draw.shuffle(items)
    mapping.clear()
    mapping.update(items)


def _lose_controls(plain: Plain, draw: Random) -> None:
    cameras = plain.get("cameras")
    cameras = list(cameras.values()) if isinstance(cameras, dict) else []
    for camera in cameras:
        controls = camera.get("controls") if isinstance(camera, dict) else None
        if isinstance(controls, dict) and controls:
            key = draw.choice(list(controls))
            if draw.random() < 0.5:
                del controls[key]
            else:
                controls[key] = draw.choice([0, 1, 3, 157])


_EDITS = (_change, _change, _take_away, _add, _rename, _exchange, _reorder, _lose_controls)
