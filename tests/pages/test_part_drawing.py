"""The part in characters: the 1 is at the side or corner that pin 1 faces."""

import pytest

from jobcheck.reports.text.part_drawing import turned_part

_PLACES = {0: (2, 7), 45: (1, 7), 90: (1, 4), 135: (1, 1), 180: (2, 1), -135: (3, 1)} | {
    -90: (3, 4),
    -45: (3, 7),
}


@pytest.mark.parametrize("after", list(_PLACES))
@pytest.mark.parametrize("before", [None, *_PLACES])
def test_pin_1_is_where_it_faces(before: int | None, after: int) -> None:
    title, *rows = turned_part(before, after)
    found = [
        (row, column) for row, text in enumerate(rows) for column, c in enumerate(text) if c == "1"
    ]
    row, column = _PLACES[after]
    expected = {(row, column + (0 if before is None else 13))}
    expected |= set() if before is None else {_PLACES[before]}
    assert set(found) == expected
    assert title.split() == (["placed"] if before is None else ["picked", "placed"])
    assert all(row == row.rstrip() and row.isascii() for row in rows)


def test_an_angle_between_is_drawn_at_the_nearest() -> None:
    assert turned_part(None, 100) == turned_part(None, 90)
    assert turned_part(None, 359) == turned_part(None, 0)
