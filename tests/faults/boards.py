"""Faults of fiducials, measured marks, panels, seats and what a job can reach."""

from jobcheck.description.frames import Frames
from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _panel(s: Scene) -> str:
    return f"{s.job}.panel"


def _seat(s: Scene) -> str:
    return f"{s.job}.seat"


def _each_mark(s: Scene, field: str, value: float) -> None:
    for mark in _all_marks(s):
        s.put(f"{mark}.{field}", value)


def _all_marks(s: Scene) -> list[str]:
    panel = s.get(_panel(s)).get("fiducials", {})
    return [*s.marks, *(f"{_panel(s)}.fiducials.{name}" for name in panel)]


def _one_mark(s: Scene) -> None:
    """All marks but one are lost, those of the panel as well."""
    for mark in _all_marks(s)[1:]:
        s.drop(mark)


def _symmetric(s: Scene) -> None:
    """A second mark where a half turn puts the first one, on the panel where that has marks."""
    marks = [mark for mark in _all_marks(s) if ".panel." in mark] or s.marks
    first = s.get(marks[0])
    width, height = s.get(f"{_panel(s)}.size_mm") if ".panel." in marks[0] else s.board
    at = {"x": round(width - first["x"], 3), "y": round(height - first["y"], 3)}
    s.puts({f"{marks[1]}.{axis}": value for axis, value in at.items()})
    s.drop(*marks[2:])


def _under_rails(s: Scene) -> None:
    """A mark of the panel, or of a board that is in none, where rails cover it."""
    s.put("conveyor", True)
    s.change(_panel(s), lambda p: {**p, "fiducials": {**p.get("fiducials", {}), **_MARKS}})


_MARKS = {
    "p1": {"x": 4.0, "y": 9.0, "diameter_mm": 1.0, "clear_mm": 1.0},
    "p2": {"x": 70.0, "y": 9.0, "diameter_mm": 1.0, "clear_mm": 1.0},
}


def _third_mark(s: Scene, share: float, off: float = 0.0) -> None:
    """A third mark on the line between two."""
    one, other = s.get(s.marks[0]), s.get(s.marks[1])
    at = {a: round(one[a] + share * (other[a] - one[a]), 3) for a in "xy"}
    s.put(f"{s.job}.board.fiducials.m9", {**one, "x": at["x"] + off, "y": at["y"]})


def _look_alike(s: Scene) -> None:
    mark = s.get(s.marks[0])
    hole = {"x": mark["x"] + 1.7, "y": mark["y"], "diameter_mm": 1.05}
    s.put(f"{s.job}.board.holes.h9", hole)


def _measure(s: Scene, *, scale: float = 1.0, mirror: bool = False, off: float = 0.0) -> None:
    """Measured marks of the panel, or of each mark of the board in the first cell."""
    job = s.shop.jobs[s.job_name]
    frames = Frames(job)
    marks = job.panel.fiducials if job.panel and job.panel.fiducials else {}
    names = dict(marks) or {
        f"{frames.first_cell().name}-{name}": mark for name, mark in job.board.fiducials.items()
    }
    width = frames.panel_size[0] if marks else s.board[0]
    corner = (0.0, 0.0) if marks else frames.first_cell().corner
    for index, (name, mark) in enumerate(sorted(names.items())):
        x = (width - mark.x if mirror else mark.x) * scale + corner[0]
        at = frames.on_seat((x, mark.y * scale + corner[1]))
        x_off = off if index == 0 else 0.0
        s.put(f"{_seat(s)}.measured.{name}", {"x": round(at[0] + x_off, 3), "y": round(at[1], 3)})


def _in_inches(s: Scene) -> None:
    _measure(s)
    for name in s.get(f"{_seat(s)}.measured"):
        for axis in "xy":
            s.change(f"{_seat(s)}.measured.{name}.{axis}", lambda v: round(v / 25.4, 4))


def _measured_elsewhere(s: Scene) -> None:
    _measure(s)
    for name in s.get(f"{_seat(s)}.measured"):
        s.add(f"{_seat(s)}.measured.{name}.x", 9.0)


def _unknown_mark(s: Scene) -> None:
    _measure(s)
    s.put(f"{_seat(s)}.measured.m77", {"x": 200.0, "y": 120.0})


FAULTS = (
    # fiducials
    Fault("fiducials-too-few", "one fiducial alone", _one_mark),
    Fault(
        "fiducial-outside-board",
        "a fiducial on the rail",
        lambda s: s.put(f"{s.job}.board.fiducials.m9", {"x": -3.0, "y": 11.0, "diameter_mm": 1.0}),
    ),
    Fault(
        "fiducial-size-unusual",
        "fiducials smaller than usual",
        lambda s: _each_mark(s, "diameter_mm", 0.7),
    ),
    Fault(
        "fiducials-unequal",
        "one fiducial of another size",
        lambda s: s.put(f"{s.marks[1]}.diameter_mm", 2.0),
    ),
    Fault(
        "fiducial-ring-narrow",
        "copper close to a fiducial",
        lambda s: s.put(f"{s.marks[0]}.clear_mm", 0.2),
    ),
    Fault("fiducial-near-edge", "rails over the fiducials", _under_rails),
    Fault(
        "fiducials-close-together",
        "two fiducials side by side",
        lambda s: s.puts(
            {
                f"{s.marks[1]}.x": s.get(f"{s.marks[0]}.x") + 6,
                f"{s.marks[1]}.y": s.get(f"{s.marks[0]}.y"),
            }
        ),
    ),
    Fault("fiducials-in-line", "three fiducials in a line", lambda s: _third_mark(s, 0.06)),
    Fault("fiducials-symmetric", "fiducials that a half turn maps", _symmetric),
    Fault("fiducial-look-alike", "a hole that looks like a fiducial", _look_alike),
    Fault(
        "fiducial-error-too-large",
        "marks measured with much noise",
        lambda s: s.put("shop.limits.fiducial_noise_mm", 0.2),
    ),
    # measured marks
    Fault("measured-mark-unknown", "a measured mark that is none", _unknown_mark),
    Fault("measured-marks-in-other-unit", "marks measured in inches", _in_inches),
    Fault("seat-contradicts-marks", "a seat that was moved", _measured_elsewhere),
    Fault("measured-board-stretched", "a panel that shrank", lambda s: _measure(s, scale=0.993)),
    # panels
    Fault(
        "panel-cells-overlap",
        "a pitch smaller than the board",
        lambda s: s.change(f"{_panel(s)}.pitch_mm", lambda p: [p[0] - 30, p[1] - 30]),
    ),
    Fault(
        "panel-cells-outside",
        "one row more than the panel holds",
        lambda s: (s.add(f"{_panel(s)}.rows", 1), s.put("shop.limits.stencil_life_h", 99)),
    ),
    Fault(
        "cells-skipped",
        "a cell left out since the last panel",
        lambda s: s.put(f"{_panel(s)}.skip", ["1-1"]),
    ),
    Fault(
        "seat-height-contradicts-thickness",
        "a seat measured on the support",
        lambda s: s.put(f"{_seat(s)}.support_z", -23.5),
    ),
    Fault(
        "panel-outside-travel",
        "a panel partly beyond the travel",
        lambda s: s.put(f"{_seat(s)}.x", 440),
    ),
    # height of the board
    Fault(
        "traverse-too-low",
        "a board on a jig too high",
        lambda s: s.puts({f"{_seat(s)}.z": -7.0, f"{s.head}.mm_per_pixel.at_z": -7.0}),
    ),
)
