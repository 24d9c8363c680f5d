"""Faults of feeders, picks, tapes, pockets, trays, sticks, stock and the time of a run."""

from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _tray(s: Scene) -> str:
    return s.of_carrier("tray")


def _stick(s: Scene) -> str:
    return s.of_carrier("stick")


def _cut_tape(s: Scene) -> str:
    return s.of_carrier("cut-tape")


def _to_slot(s: Scene) -> None:
    """A feeder named in its neighbour's slot; its pick stays."""
    one, other = s.chip(), s.chip(1)
    s.put(f"{one.path}.row", other.feeder.row)
    s.put(f"{one.path}.slot", other.feeder.slot)


def _same_height(s: Scene) -> None:
    for held in s.held[:6]:
        s.put(f"{held.path}.pick.z", -17.95)


def _second(s: Scene, **tape: float) -> None:
    """A second feeder of a part, on another tape than the first."""
    second = s.second_feeder(s.chip())
    s.puts({f"{second}.tape.{key}": value for key, value in tape.items()})


def _second_turned(s: Scene) -> None:
    """A second reel of a polarised part that lies the other way round in its tape."""
    held = s.diode()
    second = s.second_feeder(held)
    other = {"holes": "plain_edge", "plain_edge": "holes"}
    s.change(f"{second}.tape.pin1", lambda pin1: other[pin1])
    s.change(f"{second}.pick.rotation", lambda rotation: (rotation + 360) % 360 - 180)


def _pocket(s: Scene, along: float, across: float) -> None:
    s.put(f"{s.chip().path}.tape.pocket_mm", [along, across])


def _tape_too_narrow(s: Scene) -> None:
    held = s.large()
    s.puts({f"{held.path}.tape.width_mm": 8, f"{held.path}.tape.pocket_pitch_mm": 4})
    s.put(f"{held.path}.tape.advance_mm", 4)
    s.change(
        f"{held.path}.tape", lambda tape: {k: v for k, v in tape.items() if "pocket_m" not in k}
    )


def _small_case(s: Scene) -> None:
    """A part of 0402 on a tape of 4 mm pitch, as larger chips come, in place of a larger one."""
    held = s.chip()
    like = s.get(held.outline_path)
    seen = s.get(s.recognition(held))
    s.put("recognitions.tiny", {**seen, "expect_mm": [1.0, 0.5]})
    s.put("nozzles.tiny", {**s.get(s.nozzle(held)), "tip_outer_mm": 0.4, "bore_mm": 0.2})
    s.put("rack.p9", {**s.get(s.rack[-1]), "y": s.get(f"{s.rack[-1]}.y") + 20, "nozzle": "tiny"})
    small = {"body_mm": [1.0, 0.5], "height_mm": 0.35, "mass_mg": 0.6}
    s.put("outlines.chip-0402", {**like, **small, "nozzles": ["tiny"], "recognition": "tiny"})
    s.put("parts.tiny-0402", {"outline": "chip-0402"})
    s.drop(f"parts.{held.part}")
    s.put(f"{held.path}.part", "tiny-0402")
    s.change(
        f"{held.path}.tape", lambda tape: {k: v for k, v in tape.items() if "pocket_m" not in k}
    )
    for reference in held.references:
        s.put(f"{s.placed(reference)}.part", "tiny-0402")
        s.put(f'{s.job}.bill."{reference}".part', "tiny-0402")


def _over_the_board(s: Scene) -> None:
    seat = s.get(f"{s.job}.seat")
    s.puts({f"{_cut_tape(s)}.pick.x": seat["x"] + 3, f"{_cut_tape(s)}.pick.y": seat["y"] - 4})


def _hole(s: Scene, along: float, across: float) -> None:
    """The round hole that belongs to a pick, measured so far off."""
    from jobcheck.trade.plane import turned

    held = s.chip()
    assert s.shop.machine
    feed = s.shop.machine.feeder_rows[held.feeder.row or ""].feed_direction
    off = turned((along - 2.0, across + 3.5), feed)
    pick = s.get(f"{held.path}.pick")
    s.put(f"{held.path}.tape.hole", {"x": pick["x"] + off[0], "y": pick["y"] + off[1]})


def _feed(s: Scene) -> float:
    assert s.shop.machine
    return s.shop.machine.feeder_rows[s.chip().feeder.row or ""].feed_direction


def _hardly_any(s: Scene) -> None:
    s.put(f"{s.chip().path}.remaining", 3)


def _moist(s: Scene, level: str, opened: str) -> None:
    held = s.chip_of_pins()
    s.put(f"parts.{held.part}.moisture_level", level)
    s.put(f"{held.path}.reel.opened", opened)


FAULTS = (
    Fault("feeder-incomplete", "a pick lost", lambda s: s.drop(f"{s.chip().path}.pick")),
    Fault("feeder-incomplete", "a slot lost", lambda s: s.drop(f"{s.chip().path}.slot")),
    Fault("feeder-incomplete", "a row lost", lambda s: s.drop(f"{s.chip().path}.row")),
    # slots
    Fault("feeder-slot-wrong", "two feeders in one slot", _to_slot),
    Fault(
        "feeder-slot-wrong",
        "a feeder wider than its slot",
        lambda s: s.puts({f"{s.held[i].path}.body_width_mm": 56 for i in range(3)}),
    ),
    Fault(
        "feeder-slot-wrong",
        "a slot beyond the row",
        lambda s: s.put(f"{s.chip().path}.slot", 99),
    ),
    Fault("feeder-slot-wrong", "a slot of 0", lambda s: s.put(f"{s.diode().path}.slot", 0)),
    Fault("part-without-feeder", "a feeder taken off", lambda s: s.drop(s.chip().path)),
    Fault(
        "part-without-feeder",
        "a feeder emptied of its part",
        lambda s: s.drop(f"{s.diode().path}.part"),
    ),
    # picks
    Fault("feeder-pick-off-slot", "a pick at the next slot", lambda s: _along(s, 1)),
    Fault("feeder-pick-off-slot", "a pick between two slots", lambda s: _along(s, 0.5)),
    Fault(
        "feeder-outside-travel",
        "a pick mistyped",
        lambda s: s.put(f"{s.chip().path}.pick.x", 4120),
    ),
    Fault(
        "feeder-outside-travel",
        "a pick of wrong sign",
        lambda s: s.change(f"{s.chip().path}.pick.y", lambda y: -abs(y) - 40),
    ),
    Fault("pick-height-doubtful", "one height copied to six feeders", _same_height),
    Fault("pick-off-pocket", "a pick beside the pocket, along", lambda s: _hole(s, 0.8, 0)),
    Fault("pick-off-pocket", "a pick beside the pocket, across", lambda s: _hole(s, 0, 0.7)),
    Fault("pick-off-pocket", "a tape that feeds the other way", lambda s: _hole(s, 0, -7.0)),
    Fault(
        "pick-height-doubtful",
        "a feeder not seated",
        lambda s: s.add(f"{s.chip().path}.pick.z", 0.9),
    ),
    Fault(
        "pick-height-doubtful",
        "a pick height mistyped",
        lambda s: s.add(f"{s.diode().path}.pick.z", -2.0),
    ),
    Fault(
        "pick-height-doubtful",
        "a row's height mistyped",
        lambda s: s.change(f"feeder_rows.{s.chip().feeder.row}.first.z", lambda z: z * 0.1),
    ),
    Fault(
        "pick-height-doubtful",
        "a cut tape's height mistyped",
        lambda s: s.add(f"{_cut_tape(s)}.pick.z", 14.0),
    ),
    Fault(
        "pick-height-doubtful",
        "a tray far above the seat",
        lambda s: s.add(f"{_tray(s)}.pick.z", 14.0),
    ),
    Fault(
        "feeder-outside-travel",
        "a cut tape with the stock of a reel",
        lambda s: s.put(f"{_cut_tape(s)}.remaining", 900),
    ),
    Fault(
        "feed-direction-contradicts-row",
        "a feeder that feeds the other way",
        lambda s: s.put(f"{s.chip().path}.feed_direction", _feed(s) + 180),
    ),
    # tapes
    Fault(
        "tape-sizes-contradict",
        "an advance of half the pitch",
        lambda s: s.put(f"{s.chip().path}.tape.advance_mm", 2),
    ),
    Fault(
        "tape-sizes-contradict",
        "two pockets an advance, fed as one",
        lambda s: s.put(f"{s.chip().path}.tape.pockets_per_advance", 2),
    ),
    Fault(
        "tape-sizes-contradict",
        "a width that no tape has",
        lambda s: s.put(f"{s.chip().path}.tape.width_mm", 10),
    ),
    Fault(
        "tape-sizes-contradict",
        "a pitch that no tape has",
        lambda s: s.puts(
            {f"{s.chip().path}.tape.{k}": 5 for k in ("pocket_pitch_mm", "advance_mm")}
        ),
    ),
    Fault("feeder-incomplete", "a tape not described", lambda s: s.drop(f"{s.chip().path}.tape")),
    Fault(
        "carrier-contradicted",
        "a tape that is called a stick",
        lambda s: s.put(f"{s.chip().path}.carrier", "stick"),
    ),
    Fault(
        "feeders-of-part-disagree",
        "a second reel of another width",
        lambda s: _second(s, width_mm=12),
    ),
    Fault(
        "feeders-of-part-disagree",
        "a second reel of another pitch",
        lambda s: _second(s, pocket_pitch_mm=2, advance_mm=2),
    ),
    Fault("feeders-of-part-disagree", "a second reel wound otherwise", _second_turned),
    # pockets
    Fault("part-misfits-carrier", "a pocket of a smaller part", lambda s: _pocket(s, 0.6, 1.0)),
    Fault(
        "height-contradicts-pocket",
        "a pocket too shallow",
        lambda s: s.put(f"{s.large().path}.tape.pocket_depth_mm", 0.3),
    ),
    Fault(
        "attitude-contradicts-tape",
        "a pocket described the other way round",
        lambda s: _pocket(
            s, max(s.chip().outline.body_mm) + 0.2, min(s.chip().outline.body_mm) + 0.2
        ),
    ),
    Fault(
        "attitude-contradicts-tape",
        "a chip's rotation a quarter off",
        lambda s: (
            _no_pocket(s),
            s.change(f"{s.chip().path}.pick.rotation", lambda r: (r + 270) % 360 - 180),
        ),
    ),
    Fault("part-misfits-carrier", "a pocket of a larger part", lambda s: _pocket(s, 3.0, 3.4)),
    Fault("part-misfits-carrier", "a tape too narrow for its part", _tape_too_narrow),
    Fault(
        "part-misfits-carrier",
        "a tray of too fine a pitch",
        lambda s: s.put(f"{_tray(s)}.tray.pitch_mm", [3.0, 3.0]),
    ),
    Fault(
        "part-misfits-carrier",
        "a stick of too fine a pitch",
        lambda s: s.put(f"{_stick(s)}.stick.pitch_mm", 2.0),
    ),
    Fault(
        "tape-sizes-contradict",
        "pockets longer than their pitch",
        lambda s: s.change(f"{s.diode().path}.tape.pocket_mm", lambda p: [p[0] + 6.6, p[1]]),
    ),
    Fault(
        "tape-sizes-contradict",
        "pockets wider than their tape lets",
        lambda s: s.change(f"{s.diode().path}.tape.pocket_mm", lambda p: [p[0], p[1] + 5.0]),
    ),
    Fault("tape-sizes-contradict", "0402 at a pitch of 4 mm", _small_case),
    Fault(
        "tape-sizes-contradict",
        "0603 at a pitch of 2 mm",
        lambda s: s.puts(
            {f"{s.chip().path}.tape.{k}": 2 for k in ("pocket_pitch_mm", "advance_mm")}
        ),
    ),
    Fault(
        "height-contradicts-pocket",
        "a pocket far deeper than its part",
        lambda s: s.put(f"{s.chip().path}.tape.pocket_depth_mm", 2.4),
    ),
    # trays, sticks, cut tapes
    Fault(
        "feeder-count-wrong",
        "more parts than the tray has pockets left",
        lambda s: s.put(f"{_tray(s)}.tray.next_pocket", 20),
    ),
    Fault(
        "feeder-count-wrong",
        "a next pocket beyond the tray",
        lambda s: (s.put(f"{_tray(s)}.tray.next_pocket", 500), s.put(f"{_tray(s)}.remaining", 90)),
    ),
    Fault(
        "feeder-outside-travel",
        "a tray that reaches beyond the travel",
        lambda s: s.put(f"{_tray(s)}.tray.pitch_mm", [15.0, -40.0]),
    ),
    Fault(
        "feeder-count-wrong",
        "a stick with the stock of ten",
        lambda s: s.put(f"{_stick(s)}.remaining", 900),
    ),
    Fault("carrier-overlaps", "a cut tape over the board", _over_the_board),
    Fault(
        "carrier-overlaps",
        "a tray over a cut tape",
        lambda s: (
            s.put(f"{_cut_tape(s)}.pick.x", s.get(f"{_tray(s)}.pick.x") + 20),
            s.put(f"{_cut_tape(s)}.pick.y", s.get(f"{_tray(s)}.pick.y") + 20),
        ),
    ),
    # stock and time
    Fault("stock-short", "a reel that runs out", _hardly_any),
    Fault(
        "stock-short",
        "a run of ten times as many panels",
        lambda s: (s.put("shop.limits.stencil_life_h", 999), s.put(f"{s.job}.run.panels", 990)),
    ),
    Fault(
        "feeder-count-wrong",
        "stock that rose by itself",
        lambda s: s.add(f"{s.chip().path}.remaining", 500),
        compares=True,
    ),
    Fault(
        "run-exceeds-life",
        "paste of half an hour",
        lambda s: s.put("shop.limits.stencil_life_h", 0.02),
    ),
    Fault(
        "run-exceeds-life",
        "a machine set to a crawl",
        lambda s: (s.put("motion.xy_mm_s", 2), s.put("motion.xy_mm_s2", 2)),
    ),
    Fault(
        "run-exceeds-life",
        "a bag opened too long ago",
        lambda s: _moist(s, "4", "2026-09-01"),
    ),
    Fault("run-exceeds-life", "parts to be baked", lambda s: _moist(s, "6", "2026-10-14")),
)


def _along(s: Scene, slots: float) -> None:
    held = s.diode()
    assert s.shop.machine
    step = s.shop.machine.feeder_rows[held.feeder.row or ""].step
    s.add(f"{held.path}.pick.x", slots * step.x)
    s.add(f"{held.path}.pick.y", slots * step.y)


def _no_pocket(s: Scene) -> None:
    s.change(
        f"{s.chip().path}.tape", lambda tape: {k: v for k, v in tape.items() if k != "pocket_mm"}
    )
