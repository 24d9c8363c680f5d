"""Faults of panels, seats, what a job can reach, and neighbours on the board."""

from jobcheck.facts.frames import Frames
from tests.faults.plant import Fault
from tests.faults.scene import Scene


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
