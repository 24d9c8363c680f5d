"""Faults of placement lists and bills, of placements, and of the bodies on the board."""

import re

from tests.faults.plant import Fault
from tests.faults.scene import Files, Scene


def _far(s: Scene, which: int = 0) -> str:
    """Where the placement of a chip is described."""
    return s.placed(s.chip(which).references[0])


def _scaled(factor: float):
    def scale(s: Scene) -> None:
        for reference in s.references:
            for axis in "xy":
                s.change(f"{s.placed(reference)}.{axis}", lambda v: round(v * factor, 5))

    return scale


def _moved(x: float, y: float, turn: float = 1.0):
    def move(s: Scene) -> None:
        for reference in s.references:
            s.change(f"{s.placed(reference)}.x", lambda v: round(turn * v + x, 4))
            s.change(f"{s.placed(reference)}.y", lambda v: round(v + y, 4))

    return move


def _mirrored(s: Scene) -> None:
    """The list seen from below: x from the other edge."""
    _moved(s.board[0], 0, -1)(s)


def _fiducial_rows(s: Scene) -> None:
    """The list's own fiducials are 12 mm beside the described ones, the parts where they were."""
    for at, mark in enumerate(s.marks, start=1):
        x, y = s.get(f"{mark}.x") + 12.0, s.get(f"{mark}.y")
        s.put(f"{s.job}.placements.FID{at}", {"x": x, "y": y, "side": "top"})


def _cut(s: Scene) -> None:
    for reference in s.references[len(s.references) // 2 :]:
        s.drop(s.placed(reference))


def _clockwise(s: Scene) -> None:
    for reference in s.references:
        s.change(f"{s.placed(reference)}.rotation", lambda angle: -angle)


def _two_sides(s: Scene) -> None:
    """Four chips are on the other side, and its job has three of them."""
    job = s.get(s.job)
    chips = s.chip().references[:4]
    rows = {}
    for reference in chips:
        s.put(f"{s.placed(reference)}.side", "bottom")
        rows[reference] = {**s.get(s.placed(reference)), "side": "bottom"}
    del rows[chips[-1]]
    other = {key: job[key] for key in ("describes", "edition", "board", "seat") if key in job}
    listing = {"zero": "A", "bottom": "as-placed", "bottom_positions": "through-top", **rows}
    s.put("jobs.other-side", {**other, "side": "bottom", "placements": listing})


def _test_points(s: Scene) -> None:
    for at in (1, 2, 3):
        row = {"x": 3.0 * at, "y": 5.0, "side": "top"}
        s.put(f"{s.job}.placements.TP{at}", row)


def _onto(s: Scene, off: float) -> None:
    """A chip so far beside another one's centre that they touch or lie over each other."""
    one, other = s.chip(), s.chip(1)
    length = max(other.outline.body_mm) / 2 + max(one.outline.body_mm) / 2
    to = s.placed(other.references[0])
    s.puts(
        {
            f"{s.placed(one.references[0])}.x": round(s.get(f"{to}.x") + off * length, 3),
            f"{s.placed(one.references[0])}.y": s.get(f"{to}.y"),
            f"{s.placed(one.references[0])}.rotation": s.get(f"{to}.rotation"),
        }
    )


def _row_twice(files: Files, s: Scene) -> None:
    file = f"jobs/{s.job_name}/placements.csv"
    lines = files[file].splitlines(keepends=True)
    files[file] = b"".join([*lines, lines[1]])


def _add(s: Scene, x: float, y: float) -> str:
    s.add_placement("R999", s.chip(), x, y)
    return s.placed("R999")


def _hole(s: Scene) -> None:
    at = _far(s)
    hole = {"x": s.get(f"{at}.x"), "y": s.get(f"{at}.y"), "diameter_mm": 1.0}
    s.put(f"{s.job}.board.holes.h9", hole)


def _bottom_parts(s: Scene) -> None:
    """The job is called the other side of what its list has."""
    s.put(f"{s.job}.side", "bottom")


def _bottom(s: Scene) -> None:
    """All is placed on the bottom, and nothing says how the list counts rotations there."""
    s.put(f"{s.job}.side", "bottom")
    for reference in s.references:
        s.put(f"{s.placed(reference)}.side", "bottom")
    s.drop(f"{s.job}.placements.bottom")


def _exchanged(s: Scene) -> None:
    """Two parts exchanged in the bill."""
    one, other = (f'{s.job}.bill."{s.chip(i).references[0]}".part' for i in range(2))
    s.swap(one, other)


def _units(s: Scene) -> None:
    s.put(f"{s.job}.placements.units", "inch")


def _without_header_word(files: Files, s: Scene) -> None:
    file = f"jobs/{s.job_name}/placements.csv"
    files[file] = re.sub(rb"\bpart\b", b"remark", files[file], count=1)


FAULTS = (
    # lists
    Fault("reference-repeated", "a row that stands twice", files=_row_twice),
    Fault("placement-without-part", "a part left out", lambda s: s.drop(f"{_far(s)}.part")),
    Fault(
        "placement-without-part",
        "a list whose parts stand in no known column",
        files=_without_header_word,
    ),
    Fault("placements-not-built", "the wrong side of the board", _bottom_parts),
    Fault("rotation-convention-missing", "a bottom whose rotations are not declared", _bottom),
    Fault(
        "bill-contradicts-placements",
        "a line of the bill that is not placed",
        lambda s: s.put(f"{s.job}.bill.R998", {"part": s.chip().part}),
    ),
    Fault(
        "bill-contradicts-placements",
        "a row lost from the list",
        lambda s: s.drop(s.placed(s.chip().references[-1])),
    ),
    Fault(
        "bill-contradicts-placements",
        "a line lost from the bill",
        lambda s: s.drop(f'{s.job}.bill."{s.chip().references[0]}"'),
    ),
    Fault("bill-contradicts-placements", "two parts exchanged in the bill", _exchanged),
    Fault(
        "name-unknown",
        "a part misspelled in list and bill",
        lambda s: [
            s.put(f'{s.job}.{block}."{s.chip().references[0]}".part', s.chip().part + "x")
            for block in ("placements", "bill")
        ],
    ),
    # placements
    Fault(
        "placement-outside-board",
        "a decimal point lost",
        lambda s: s.change(f"{_far(s)}.x", lambda x: x * 100),
    ),
    Fault(
        "placement-outside-board",
        "a sign too many",
        lambda s: s.change(f"{_far(s)}.y", lambda y: -y - 5),
    ),
    Fault("list-frame-wrong", "a list in inches read as mm", _scaled(1 / 25.4)),
    Fault("list-frame-wrong", "a list in mil read as mm", _scaled(1000 / 25.4)),
    Fault("list-frame-wrong", "a list declared in the wrong unit", _units),
    Fault("list-frame-wrong", "a list seen from below", _moved(0, 0, -1)),
    Fault("list-frame-wrong", "an origin outside the board", _moved(400, 300)),
    Fault("list-frame-wrong", "an origin 2 mm off since the record", _moved(2, 1), compares=True),
    Fault("list-frame-wrong", "a list mirrored on the board", _mirrored, compares=True),
    Fault("list-frame-wrong", "fiducial rows from another origin", _fiducial_rows),
    Fault("list-rows-lost", "a list cut in half", _cut, compares=True),
    Fault("list-frame-wrong", "rotations counted clockwise", _clockwise, compares=True),
    Fault("placement-without-part", "test points without a part", _test_points),
    Fault("placements-not-built", "a reference lost between two sides", _two_sides),
    Fault("rotation-doubtful", "a rotation mistyped", lambda s: s.add(f"{_far(s)}.rotation", 1)),
    # bodies
    Fault("bodies-too-close", "one part on another", lambda s: _onto(s, 0.4)),
    Fault(
        "bodies-too-close",
        "two references at one place",
        lambda s: s.puts({f"{_far(s)}.{a}": s.get(f"{_far(s, 1)}.{a}") for a in ("x", "y")}),
    ),
    Fault(
        "bodies-too-close",
        "more room asked for than there is",
        lambda s: s.put("shop.limits.body_clearance_mm", 2.5),
    ),
    Fault("body-over-hole-or-fiducial", "a hole under a part", _hole),
    Fault(
        "body-over-hole-or-fiducial",
        "a part on a fiducial",
        lambda s: _add(s, s.get(f"{s.marks[0]}.x") + 0.3, s.get(f"{s.marks[0]}.y")),
    ),
    Fault(
        "body-beyond-edge",
        "a part over the board's edge",
        lambda s: _add(s, s.board[0] - 0.5, 20.0),
    ),
    Fault(
        "body-beyond-edge", "a part at the board's edge", lambda s: _add(s, s.board[0] - 0.9, 20.0)
    ),
)
