"""A list that changed as a whole is one group of changes, which is one line of diff."""

import pytest

from jobcheck.changes.diff import diff
from jobcheck.changes.groups import groups
from jobcheck.facts.facts import Facts
from tests.support.edited import edited_shop, starter

LIST = "jobs.first-board.placements"


def changed(edits: str) -> list[tuple[str, int]]:
    """Return (words, number of changes) of each group against the starter shop."""
    old, new = starter().shop, edited_shop(edits)
    assert old
    found = groups(diff(old, new), Facts(old), Facts(new))
    return [(group.whole, len(group.changes)) for group in found]


def rows(by: tuple[float, float], turn: float, mirror: float = 1) -> str:
    """Every row of the starter shop moved, mirrored in x and turned."""
    shop = starter().shop
    assert shop
    listing = shop.jobs["first-board"].placements.by_reference
    return "".join(
        f"{LIST}.{ref}.x: {row.x * mirror + by[0]}\n{LIST}.{ref}.y: {row.y + by[1]}\n"
        f"{LIST}.{ref}.rotation: {row.rotation + turn}\n"
        for ref, row in listing.items()
    )


@pytest.mark.parametrize(
    ("edits", "expected"),
    [
        (rows((2, 3), 0), [("all rows are moved by (2, 3) mm", 16)]),
        (rows((40, 0), 0, -1), [("all rows are mirrored in x", 8)]),
        (rows((0, 0), 90), [("all rotations are turned by 90 degrees", 8)]),
        (f"{LIST}.R1.x: 9", [("", 1)]),
        (
            "".join(f"{LIST}.{ref}: ~\n" for ref in ("C2", "D1", "D2", "U1")),
            [("the last 4 of 8 rows are missing, from C2 on", 4)],
        ),
    ],
)
def test_a_whole_list_is_one_group(edits: str, expected: list[tuple[str, int]]) -> None:
    assert changed(edits) == expected


def test_harmful_turns_come_first_with_their_part_and_harmless_ones_are_counted() -> None:
    old = starter().shop
    new = edited_shop(
        f"{LIST}.C1.x: 15\n{LIST}.D1.rotation: 180\n"
        f"{LIST}.R1.rotation: 180\n{LIST}.R2.rotation: 180\n"
    )
    assert old
    turned, moved, harmless = groups(diff(old, new), Facts(old), Facts(new))
    assert list(turned.parts.values()) == ["diode-sod123"]
    assert turned.impact.so == ("pin 1 would be on the pad of pin 2",)
    assert [change.path[3] for change in moved.changes] == ["C1"]
    assert harmless.whole == "2 rows turned"
    assert harmless.impact.so == ("each of them looks the same so turned, which does no harm",)
    assert harmless.impact.jobs == ()
