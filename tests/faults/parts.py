"""Faults of parts, nozzles, tips, spindles and vacuum."""

from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _spindle_beside(s: Scene) -> None:
    x, y = (s.get(f"{s.spindles[0]}.offset_from_camera.{axis}") for axis in "xy")
    s.put(f"{s.spindles[1]}.offset_from_camera", {"x": round(x + 0.1, 2), "y": y})


def _nozzle_twice(s: Scene) -> None:
    place = s.get(s.rack[0])
    s.put("rack.p9", {**place, "y": place["y"] + 12})


def _without_place(s: Scene) -> None:
    """The place of a nozzle that a spindle carries is gone."""
    carried = s.get(f"{s.spindles[0]}.carries")
    s.drop(next(place for place in s.rack if s.get(place)["nozzle"] == carried))


def _not_in_rack(s: Scene) -> None:
    """The place of a nozzle that parts need and no spindle carries is gone."""
    carried = {s.get(spindle).get("carries") for spindle in s.spindles}
    s.drop(next(place for place in s.rack if s.get(place)["nozzle"] not in carried))


FAULTS = (
    Fault(
        "height-unknown", "a height lost", lambda s: s.drop(f"{s.diode().outline_path}.height_mm")
    ),
    Fault(
        "height-unknown",
        "a height of nothing",
        lambda s: s.put(f"{s.diode().outline_path}.height_mm", 0),
    ),
    Fault(
        "height-or-mass-implausible",
        "a height ten times too large",
        lambda s: s.put(f"{_soic(s)}.height_mm", 16.0),
    ),
    Fault(
        "height-or-mass-implausible",
        "a height in inches",
        lambda s: s.put(f"{_soic(s)}.height_mm", 0.063),
    ),
    Fault(
        "outline-sizes-contradict",
        "an inch code read as metric",
        lambda s: s.put(f"{s.chip().outline_path}.case_system", "metric"),
    ),
    Fault(
        "outline-sizes-contradict",
        "a part's name of another case",
        lambda s: s.puts(
            {
                "parts.spare-1206": {"outline": s.chip().outline_name},
                f"{s.chip().path}.part": "spare-1206",
                **{s.placed(r) + ".part": "spare-1206" for r in s.chip().references},
                **{f'{s.job}.bill."{r}".part': "spare-1206" for r in s.chip().references},
            }
        ),
    ),
    Fault(
        "pin1-missing",
        "what pin 1 means is not said",
        lambda s: s.drop(f"{s.diode().outline_path}.pin1_means"),
    ),
    Fault(
        "pin1-missing",
        "where pin 1 is drawn is not said",
        lambda s: s.drop(f"{s.diode().outline_path}.pin1_at_zero"),
    ),
    Fault(
        "nozzle-missing",
        "no nozzle lifts it",
        lambda s: s.put(f"{s.large().outline_path}.nozzles", []),
    ),
    # nozzles and rack
    Fault(
        "nozzle-tip-unsuitable",
        "a tip wider than the part",
        lambda s: s.put(f"{s.chip().outline_path}.nozzles", s.large().outline.nozzles),
    ),
    Fault("nozzle-place-wrong", "one nozzle in two places", _nozzle_twice),
    Fault(
        "nozzle-place-wrong",
        "one nozzle on two spindles",
        lambda s: s.put(f"{s.spindles[1]}.carries", s.get(f"{s.spindles[0]}.carries")),
    ),
    Fault(
        "fixtures-overlap",
        "a rack place copied",
        lambda s: s.puts({f"{s.rack[1]}.{axis}": s.get(f"{s.rack[0]}.{axis}") for axis in "xy"}),
    ),
    Fault("nozzle-place-wrong", "a nozzle that no spindle can fetch", _not_in_rack),
    Fault("nozzle-place-wrong", "a carried nozzle cannot be put down", _without_place),
    # tips
    Fault(
        "nozzle-tip-unsuitable",
        "bore and tip exchanged",
        lambda s: s.swap(f"{s.nozzle(s.large())}.bore_mm", f"{s.nozzle(s.large())}.tip_outer_mm"),
    ),
    Fault(
        "nozzle-tip-unsuitable",
        "a tip a little wider than the part",
        lambda s: s.put(f"{s.nozzle(s.chip())}.tip_outer_mm", min(s.chip().outline.body_mm) + 0.1),
    ),
    Fault(
        "nozzle-tip-unsuitable",
        "bent spindles",
        lambda s: s.puts({f"{spindle}.tip_eccentricity_mm": 0.3 for spindle in s.spindles}),
    ),
    # mass and press
    Fault(
        "height-or-mass-implausible",
        "a mass ten times too large",
        lambda s: s.put(f"{_soic(s)}.mass_mg", 750),
    ),
    Fault(
        "press-too-deep",
        "a press that drives the tip below the board",
        lambda s: s.put(f"{s.chip().outline_path}.press_mm", 3),
    ),
    Fault(
        "press-too-deep",
        "a press ten times too deep",
        lambda s: s.put(f"{_soic(s)}.press_mm", 0.5),
    ),
    Fault(
        "outline-sizes-contradict",
        "a terminal ten times as wide",
        lambda s: s.put(f"{_soic(s)}.terminal_mm", 42),
    ),
    Fault(
        "outline-sizes-contradict",
        "a number of terminals mistyped",
        lambda s: s.put(f"{_soic(s)}.terminals", 80),
    ),
    # vacuum
    Fault(
        "part-too-heavy-for-nozzle",
        "a mass in the wrong unit",
        lambda s: s.put(f"{s.large().outline_path}.mass_mg", 400_000),
    ),
    Fault(
        "part-too-heavy-for-nozzle",
        "moves far too hard",
        lambda s: s.put("motion.xy_mm_s2", 200_000),
    ),
    Fault(
        "nozzle-pressures-contradict",
        "thresholds exchanged",
        lambda s: s.swap(f"{s.nozzle(s.large())}.empty_kpa", f"{s.nozzle(s.large())}.held_kpa"),
    ),
    Fault(
        "nozzle-pressures-contradict",
        "a pump grown weak",
        lambda s: s.put("vacuum.pump_kpa", -40),
    ),
    Fault(
        "nozzle-pressures-contradict",
        "pressure in another unit",
        lambda s: s.put("vacuum.pump_kpa", -600),
    ),
    # spindles
    Fault("spindles-too-near", "an offset copied", _spindle_beside),
    Fault(
        "spindles-too-near",
        "an offset ten times too small",
        lambda s: s.puts(
            {f"{s.spindles[0]}.offset_from_camera": {"x": -3.12, "y": 0.4}},
        ),
    ),
)


def _soic(s: Scene) -> str:
    """Where a case is described whose heights are published."""
    return "outlines.soic-8"
