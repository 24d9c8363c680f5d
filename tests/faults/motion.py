"""Faults of heights, moves, dates, names and the upkeep of findings."""

from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _accept(s: Scene, rule: str, path: str, until: str) -> None:
    s.put(f"shop.accepted.{rule}", {path: {"because": "known", "until": until}})


def _ran_out(s: Scene) -> None:
    s.put("nozzles.spare", {"tip_outer_mm": 5.0, "bore_mm": 3.0})
    _accept(s, "entries-unused", "nozzles", "2026-10-01")


def _row(s: Scene) -> str:
    assert s.shop.machine
    return f"feeder_rows.{min(s.shop.machine.feeder_rows)}"


FAULTS = (
    Fault(
        "capability-low",
        "a machine that repeats badly",
        lambda s: s.put("repeatability", {"x_mm": 0.2, "y_mm": 0.2}),
    ),
    Fault("traverse-too-low", "travelling too low", lambda s: s.put("traverse_z", -14.0)),
    Fault(
        "traverse-too-low",
        "an obstacle in the way",
        lambda s: s.put("obstacles.post", {"x": [72, 76], "y": [90, 96], "top_z": -1.0}),
    ),
    Fault("outside-travel", "a rack place too deep", lambda s: s.put(f"{s.rack[0]}.z", -45.0)),
    Fault(
        "outside-travel",
        "a pick too deep",
        lambda s: s.put(f"{s.chip().path}.pick.z", -38.0),
    ),
    Fault("outside-travel", "a height without its sign", lambda s: s.put("traverse_z", 2.0)),
    Fault("outside-travel", "a bin beyond the travel", lambda s: s.put("reject_bin.x", 900)),
    Fault("outside-travel", "a rack place mistyped", lambda s: s.put(f"{s.rack[0]}.y", 1600)),
    Fault(
        "outside-travel",
        "an obstacle where nothing comes",
        lambda s: s.put("obstacles.post", {"x": [900, 910], "y": [20, 30], "top_z": -10}),
    ),
    Fault(
        "traverse-too-low",
        "a rack place measured too high",
        lambda s: s.put(f"{s.rack[0]}.z", -14.5),
    ),
    Fault(
        "turn-beyond-spindle",
        "spindles that turn too little",
        lambda s: s.puts({f"{spindle}.rotation": [-45, 45] for spindle in s.spindles}),
    ),
    Fault(
        "fixtures-overlap",
        "a bin over the board",
        lambda s: s.puts(
            {
                "reject_bin.x": s.get(f"{s.job}.seat.x") + 20,
                "reject_bin.y": s.get(f"{s.job}.seat.y") - 20
                if s.get(f"{s.job}.seat.rotation") == 270
                else s.get(f"{s.job}.seat.y") + 20,
            }
        ),
    ),
    Fault(
        "fixtures-overlap",
        "a camera's place copied from the rack",
        lambda s: s.puts(
            {f"{s.up}.position.{axis}": s.get(f"{s.rack[0]}.{axis}") for axis in "xy"}
        ),
    ),
    Fault(
        "fixtures-overlap",
        "the reject bin over the home mark",
        lambda s: s.puts({f"reject_bin.{axis}": s.get(f"home_mark.{axis}") for axis in "xy"}),
    ),
    Fault(
        "outside-travel",
        "a row of ten times as many slots",
        lambda s: s.change(f"{_row(s)}.slots", lambda slots: 10 * slots),
    ),
    Fault(
        "sign-changed",
        "places approached from the other side",
        lambda s: s.put("approach.direction.0", "-x"),
        compares=True,
    ),
    Fault(
        "run-thickness-implausible",
        "paste in millimetres",
        lambda s: s.put(f"{s.job}.run.paste_um", 0.12),
    ),
    Fault(
        "sign-changed",
        "a spindle's offset without its sign",
        lambda s: s.change(f"{s.spindles[0]}.offset_from_camera.y", lambda y: -y),
        compares=True,
    ),
    Fault(
        "approach-ineffective",
        "an approach from both sides",
        lambda s: s.put("approach.direction", ["+x", "-x"]),
    ),
    Fault(
        "approach-ineffective",
        "an approach shorter than the reversal",
        lambda s: s.put("approach.distance_mm", 0.02),
    ),
    Fault(
        "height-measured-with-other-nozzle",
        "a height measured with a longer nozzle",
        lambda s: s.puts(
            {
                "nozzles.gauge": {"tip_outer_mm": 0.5, "bore_mm": 0.2, "length_mm": 14.0},
                f"{s.chip().path}.pick.measured_with": "gauge",
            }
        ),
    ),
    # dates and names
    Fault(
        "measured-before-event",
        "a place measured before what touched it",
        lambda s: s.put(f"{s.rack[0]}.measured", "2026-08-01"),
    ),
    Fault(
        "date-implausible",
        "an event of two dates",
        lambda s: s.put("events.2026-07-02-oil", {"date": "2026-07-20", "touched": ["z"]}),
    ),
    Fault(
        "reel-of-other-part",
        "another part's reel on a feeder",
        lambda s: s.put(
            f"{s.chip().path}.reel.maker_number", s.get(f"parts.{s.diode().part}.maker_number")
        ),
    ),
    Fault(
        "name-unknown",
        "an outline misspelled",
        lambda s: s.change(f"parts.{s.chip().part}.outline", lambda name: name + "x"),
    ),
    Fault("name-unknown", "a nozzle taken away", lambda s: s.drop(s.nozzle(s.large()))),
    Fault(
        "name-unknown",
        "a recognition renamed",
        lambda s: s.put(f"{s.chip().outline_path}.recognition", "see-nothing"),
    ),
    Fault(
        "entries-unused",
        "a nozzle that nothing uses",
        lambda s: s.put("nozzles.spare", {"tip_outer_mm": 5.0, "bore_mm": 3.0}),
    ),
    Fault(
        "name-unknown",
        "an event that touched a misspelled camera",
        lambda s: s.put("events.wipe", {"date": "2026-10-01", "touched": ["cameras.upp"]}),
    ),
    Fault(
        "copied-value-differs",
        "a seat measured anew, the camera's scale not",
        lambda s: s.add(f"{s.job}.seat.z", 0.4),
        compares=True,
    ),
    Fault("file-no-longer-named", "a job's folder taken away", lambda s: s.drop(s.job)),
    # upkeep
    Fault(
        "acceptance-outdated",
        "an acceptance of what is not found",
        lambda s: _accept(s, "entries-unused", "nozzles", "2027-03-01"),
    ),
    Fault("acceptance-outdated", "an acceptance that ran out", _ran_out),
    Fault(
        "silencing-faulty",
        "a rule switched off without a reason",
        lambda s: s.put("shop.disabled.feeder-slot-wrong", " "),
    ),
    Fault(
        "silencing-faulty",
        "a misspelled rule switched off",
        lambda s: s.put("shop.disabled.feeder-slots-shared", "trays only"),
    ),
)
