"""Faults of fiducials and of measured marks."""

from collections.abc import Callable

from jobcheck.facts.frames import Frames
from jobcheck.trade.plane import Point
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


def _near_edge(s: Scene) -> None:
    """A fiducial of the panel whose clear ring reaches beyond its edge."""
    s.change(_panel(s), lambda p: {**p, "fiducials": {**p.get("fiducials", {}), **_MARKS}})


_MARKS = {
    "p1": {"x": 1.2, "y": 9.0, "diameter_mm": 1.0, "clear_mm": 1.0},
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


def _measure(s: Scene, seen: Callable[[float, float], Point] = lambda x, y: (x, y)) -> None:
    """Measure three marks, each where it is seen on its sheet: the panel, else the first cell."""
    job = s.shop.jobs[s.job_name]
    frames = Frames(job)
    on_panel = bool(job.panel and job.panel.fiducials)
    if on_panel:
        marks, corner, prefix = s.get(f"{_panel(s)}.fiducials"), (0.0, 0.0), ""
    else:
        cell = frames.first_cell()
        s.put(f"{s.job}.board.fiducials.m3", {"x": 6.5, "y": s.board[1] - 12, "diameter_mm": 1.0})
        marks, corner = s.get(f"{s.job}.board.fiducials"), cell.corner
        prefix = f"{cell.name}-"
    for name, mark in marks.items():
        x, y = seen(mark["x"], mark["y"])
        at = frames.on_seat((x + corner[0], y + corner[1]))
        s.put(f"{_seat(s)}.measured.{prefix}{name}", {"x": round(at[0], 3), "y": round(at[1], 3)})


def _one_off(s: Scene) -> None:
    _measure(s)
    first = next(iter(s.get(f"{_seat(s)}.measured")))
    for axis, by in (("x", 3.1), ("y", 0.9)):
        s.add(f"{_seat(s)}.measured.{first}.{axis}", by)


def _scattered(s: Scene) -> None:
    _measure(s)
    for name, off in zip(s.get(f"{_seat(s)}.measured"), _OFF, strict=False):
        for axis, by in zip("xy", off, strict=True):
            s.add(f"{_seat(s)}.measured.{name}.{axis}", by)


_OFF = ((-1.8, 2.4), (2.7, -1.8), (1.9, 3.3))


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
        "fiducial-unsuitable",
        "fiducials smaller than usual",
        lambda s: _each_mark(s, "diameter_mm", 0.7),
    ),
    Fault(
        "fiducial-unsuitable",
        "one fiducial of another size",
        lambda s: s.put(f"{s.marks[1]}.diameter_mm", 2.0),
    ),
    Fault(
        "fiducial-unsuitable",
        "copper close to a fiducial",
        lambda s: s.put(f"{s.marks[0]}.clear_mm", 0.2),
    ),
    Fault("fiducial-unsuitable", "rails over the fiducials", _near_edge),
    Fault(
        "fiducials-badly-spread",
        "two fiducials side by side",
        lambda s: s.puts(
            {
                f"{s.marks[1]}.x": s.get(f"{s.marks[0]}.x") + 6,
                f"{s.marks[1]}.y": s.get(f"{s.marks[0]}.y"),
            }
        ),
    ),
    Fault("fiducials-badly-spread", "three fiducials in a line", lambda s: _third_mark(s, 0.06)),
    Fault("fiducials-symmetric", "fiducials that a half turn maps", _symmetric),
    Fault("fiducial-look-alike", "a hole that looks like a fiducial", _look_alike),
    Fault(
        "fiducial-error-too-large",
        "marks measured with much noise",
        lambda s: s.put("shop.limits.fiducial_noise_mm", 0.2),
    ),
    # measured marks
    Fault("measured-fiducials-do-not-fit", "a measured mark that is none", _unknown_mark),
    Fault("measured-fiducials-do-not-fit", "marks measured in inches", _in_inches),
    Fault("measured-fiducials-do-not-fit", "a seat that was moved", _measured_elsewhere),
    Fault(
        "measured-fiducials-do-not-fit",
        "a panel that shrank",
        lambda s: _measure(s, lambda x, y: (0.993 * x, 0.993 * y)),
    ),
    Fault(
        "measured-fiducials-do-not-fit",
        "marks measured on the other side",
        lambda s: _measure(s, lambda x, y: (_sheet_width(s) - x, y)),
    ),
    Fault("measured-fiducials-do-not-fit", "a pad taken for a mark", _one_off),
    Fault(
        "measured-fiducials-do-not-fit",
        "axes that are not square",
        lambda s: _measure(s, lambda x, y: (x + 0.006 * y, y)),
    ),
    Fault("measured-fiducials-do-not-fit", "marks measured anywhere", _scattered),
)


def _sheet_width(s: Scene) -> float:
    job = s.shop.jobs[s.job_name]
    on_panel = bool(job.panel and job.panel.fiducials)
    return Frames(job).panel_size[0] if on_panel else s.board[0]
