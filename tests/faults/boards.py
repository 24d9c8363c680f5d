"""Faults of lists and bills, placements, bodies, panels and seats, and neighbours on the board."""

import re

from jobcheck.facts.frames import Frames
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


def _panel(s: Scene) -> str:
    return f"{s.job}.panel"


def _seat(s: Scene) -> str:
    return f"{s.job}.seat"


def _lower_edge_at(s: Scene, y: float) -> None:
    """The seat moved until the lower edge of the panel lies at a height of the machine's y."""
    s.add(f"{_seat(s)}.y", y - _edges(s)[0])


def _edges(s: Scene) -> tuple[float, float]:
    """Lower and upper edge of the panel in the machine, mm."""
    frames = Frames(s.shop.jobs[s.job_name])
    width, height = frames.panel_size
    ys = [frames.on_seat(corner)[1] for corner in ((0.0, 0.0), (width, height))]
    return min(ys), max(ys)


def _out_of_reach(s: Scene) -> None:
    """A part so near the lower edge of the travel that only the camera gets there."""
    _lower_edge_at(s, 0.5)
    s.add_placement("R999", s.chip(), s.corner()[0], 1.0)


def _mark_out_of_reach(s: Scene) -> None:
    """A panel at the far end of the travel, with a mark where only spindles get to."""
    machine = s.shop.machine
    assert machine
    reach = machine.travel.y[1] + machine.spindles["a"].offset_from_camera.y
    s.add(f"{_seat(s)}.y", reach - 0.1 - _edges(s)[1])
    job = s.shop.jobs[s.job_name]
    if job.panel and job.panel.fiducials:
        s.put(f"{_panel(s)}.fiducials.p3.y", Frames(job).panel_size[1] - 2.0)
    else:
        s.put(f"{s.marks[0]}.x", 2.0)


def _overhang(s: Scene) -> None:
    """A part over the edge toward the next board, farther than the gap between the two."""
    held = s.large()
    s.put(f"{held.outline_path}.overhang_mm", 9.0)
    width, height = s.board
    reach = min(held.outline.body_mm) / 2 - 3.2
    s.add_placement("R999", held, width / 2, round(height - reach, 3))


def _under_a_tall_one(s: Scene) -> None:
    """A chip below a part that stands open, placed after it."""
    tall = s.large()
    s.put(f"{tall.outline_path}.open_below_mm", 1.5)
    at = s.get(s.placed(tall.references[0]))
    s.add_placement("R999", s.chip(), at["x"], at["y"])
    s.put(f"{s.job}.order", "as-listed")


def _clamp(s: Scene) -> None:
    """A clamp where a part is placed."""
    job = s.shop.jobs[s.job_name]
    frames = Frames(job)
    at = s.get(s.placed(s.chip().references[0]))
    x, y = frames.on_seat(frames.on_panel((at["x"], at["y"]), frames.first_cell()))
    top = job.seat.z + 1.5
    s.put("obstacles.clamp", {"x": [x - 1, x + 1], "y": [y - 1, y + 1], "top_z": top})


def _underside(s: Scene) -> None:
    s.put(f"{s.job}.underside", "placed")
    s.put(f"{_seat(s)}.clearance_below_mm", 0.3)
    s.add_placement("R999", s.large(), s.board[0] / 2, s.board[1] / 2)
    s.put(f"{s.placed('R999')}.side", "bottom")


def _one_more_column(s: Scene) -> None:
    panel = s.shop.jobs[s.job_name].panel
    assert panel
    width, height = Frames(s.shop.jobs[s.job_name]).panel_size
    more = panel.pitch_mm[0] + panel.origin_mm[0]
    s.put(f"{_panel(s)}.size_mm", [round(width + more, 3), height])


def _panel_fiducial(s: Scene) -> None:
    """A fiducial of the panel where a chip of the first cell is placed."""
    frames = Frames(s.shop.jobs[s.job_name])
    at = s.get(s.placed(s.chip().references[0]))
    x, y = frames.on_panel((at["x"], at["y"]), frames.first_cell())
    fiducial = {"x": round(x, 3), "y": round(y, 3), "diameter_mm": 1.0}
    panel = s.get(_panel(s))
    s.put(_panel(s), {**panel, "fiducials": {**panel.get("fiducials", {}), "p9": fiducial}})


FAULTS = (
    Fault("job-incomplete", "a job that lost its seat", lambda s: s.drop(f"{s.job}.seat")),
    # lists
    Fault("reference-repeated", "a row that is there twice", files=_row_twice),
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
    # panels
    Fault(
        "panel-cells-do-not-fit",
        "a pitch smaller than the board",
        lambda s: s.change(f"{_panel(s)}.pitch_mm", lambda p: [p[0] - 30, p[1] - 30]),
    ),
    Fault(
        "panel-cells-do-not-fit",
        "one row more than the panel holds",
        lambda s: (s.add(f"{_panel(s)}.rows", 1), s.put("shop.limits.stencil_life_h", 99)),
    ),
    Fault(
        "cells-skipped",
        "a cell left out since the last panel",
        lambda s: s.put(f"{_panel(s)}.skip", ["1-1"]),
    ),
    Fault(
        "board-thickness-doubtful",
        "a seat measured on the support",
        lambda s: s.put(f"{_seat(s)}.support_z", -23.5),
    ),
    Fault(
        "job-out-of-reach",
        "a panel partly beyond the travel",
        lambda s: s.put(f"{_seat(s)}.x", 440),
    ),
    # height of the board
    Fault(
        "traverse-too-low",
        "a board on a jig too high",
        lambda s: s.puts({f"{_seat(s)}.z": -7.0, f"{s.head}.mm_per_pixel.at_z": -7.0}),
    ),
    # reach and neighbours
    Fault("job-out-of-reach", "a part that no spindle gets to", _out_of_reach),
    Fault("job-out-of-reach", "a mark that the camera does not get to", _mark_out_of_reach),
    Fault("body-beyond-edge", "a part over the edge onto the next board", _overhang),
    Fault("nozzle-strikes-neighbour", "a low part placed under a taller one", _under_a_tall_one),
    Fault("placement-strikes-obstacle", "a clamp where a part is placed", _clamp),
    Fault("body-over-hole-or-fiducial", "a panel's fiducial under a part", _panel_fiducial),
    Fault(
        "panel-cells-do-not-fit",
        "a panel with room for one more column",
        _one_more_column,
    ),
    Fault("underside-strikes-support", "parts below on too low a support", _underside),
)
