"""Faults of polarity: from the tape to the pads."""

from tests.faults.plant import Fault
from tests.faults.scene import Held, Scene

_OTHER = {
    "holes": "plain_edge",
    "plain_edge": "holes",
    "q1": "q4",
    "q4": "q1",
    "q2": "q3",
    "q3": "q2",
}


def _turn(s: Scene, held: Held, by: float) -> None:
    s.change(f"{held.path}.pick.rotation", lambda angle: (angle + by + 540) % 360 - 180)


def _all_picks(s: Scene, held: Held, by: float) -> None:
    for part in s.facts.usage.parts_of_outline(held.outline_name):
        for name in s.facts.usage.feeders_of_part(part):
            s.change(f"feeders.{name}.pick.rotation", lambda angle: (angle + by + 540) % 360 - 180)


def _padded(s: Scene) -> Scene:
    s.add_pads()
    return s


def _one_turned(s: Scene, by: float) -> None:
    s.add_pads()
    diode = max((h for h in s.held if h.outline.polarised), key=lambda h: len(h.references))
    s.change(f"{s.placed(diode.references[0])}.rotation", lambda r: (r + by) % 360)


def _drawing(s: Scene) -> None:
    """An outline drawn the other way round than its footprint; its reels are declared to fit."""
    s.add_pads()
    held = s.diode()
    s.put(f"{held.outline_path}.pin1_at_zero", "right")
    for part in s.facts.usage.parts_of_outline(held.outline_name):
        for name in s.facts.usage.feeders_of_part(part):
            s.change(f"feeders.{name}.tape.pin1", lambda pin1: _OTHER[pin1])


def _cancelling(s: Scene) -> None:
    s.add_pads()
    s.put(f"{s.diode().outline_path}.pin1_at_zero", "right")


def _bottom_as_mirrored(s: Scene) -> None:
    """All parts on the bottom, seen from there as they lay on the top, declared as mirrored."""
    s.add_pads()
    s.puts({f"{s.job}.side": "bottom", f"{s.job}.placements.bottom": "through-top-mirrored-y"})
    for reference in s.references:
        path = s.placed(reference)
        s.put(f"{path}.side", "bottom")
        for x in ("x", "pin1_x"):
            if s.get(path).get(x) is not None:
                s.change(f"{path}.{x}", lambda v: round(s.board[0] - v, 3))


def _drawn_anew(s: Scene) -> None:
    """An outline drawn the other way round; nothing is known of its pads."""
    path = s.diode().outline_path
    s.put(f"{path}.pin1_at_zero", "right")
    s.change(path, lambda outline: {k: v for k, v in outline.items() if k != "pad1_at_zero"})


def _across_rows(s: Scene) -> None:
    """A feeder put into another row that feeds another way; its pick point was measured anew."""
    held = s.diode()
    assert s.shop.machine
    rows = s.shop.machine.feeder_rows
    own = rows[held.feeder.row or ""].feed_direction
    row = next(name for name in rows if rows[name].feed_direction != own)
    slot = s.free_slot(row)
    described = rows[row]
    s.puts({f"{held.path}.row": row, f"{held.path}.slot": slot})
    s.put(f"{held.path}.pick.x", described.first.x + (slot - 1) * described.step.x)
    s.put(f"{held.path}.pick.y", described.first.y + (slot - 1) * described.step.y)


def _reversed_terminal(s: Scene) -> None:
    """Pad 1 of the footprint is the other terminal: the classic reversed diode."""
    path = s.diode().outline_path
    s.puts({f"{path}.pad1_at_zero": "left", f"{path}.pad1_means": "anode"})
    s.put(f"{path}.pin1_means", "cathode")


def _unnamed_square(s: Scene) -> None:
    """A quad flat of which nobody says that it has a pin 1."""
    held = s.some(lambda h: h.outline.terminals > 8 and len(set(h.outline.body_mm)) == 1)
    for part in s.facts.usage.parts_of_outline(held.outline_name):
        for name in s.facts.usage.feeders_of_part(part):
            s.drop(f"feeders.{name}.tape.pin1")
    dropped = ("pin1_means", "pin1_at_zero", "pad1_at_zero")
    s.change(
        held.outline_path, lambda outline: {k: v for k, v in outline.items() if k not in dropped}
    )
    s.put(f"{held.outline_path}.polarised", False)


FAULTS = (
    Fault(
        "pick-rotation-wrong",
        "a diode's pick half a turn off",
        lambda s: _turn(s, s.diode(), 180),
    ),
    Fault(
        "pick-rotation-wrong",
        "an integrated circuit's pick half a turn off",
        lambda s: _turn(s, s.chip_of_pins(), 180),
    ),
    Fault(
        "pick-rotation-wrong",
        "a reel wound the other way",
        lambda s: s.change(f"{s.diode().path}.tape.pin1", lambda pin1: _OTHER[pin1]),
    ),
    Fault(
        "pick-rotation-wrong",
        "a row that feeds the other way",
        lambda s: s.change(
            f"feeder_rows.{s.diode().feeder.row}.feed_direction", lambda f: (f + 180) % 360
        ),
    ),
    Fault(
        "pick-rotation-wrong",
        "a pick a quarter turn off",
        lambda s: _turn(s, s.chip_of_pins(), 90),
    ),
    Fault("pick-rotation-wrong", "a pick askew", lambda s: _turn(s, s.diode(), 40)),
    Fault(
        "tape-pin1-impossible",
        "a diode in a quadrant",
        lambda s: s.put(f"{s.diode().path}.tape.pin1", "q2"),
    ),
    Fault(
        "tape-pin1-impossible",
        "a corner pin at an edge",
        lambda s: s.put(f"{s.chip_of_pins().path}.tape.pin1", "holes"),
    ),
    Fault(
        "carrier-pin1-unproven",
        "nobody says where pin 1 lies",
        lambda s: s.drop(f"{s.diode().path}.tape.pin1"),
    ),
    Fault(
        "carrier-pin1-unproven",
        "a tray without an attitude",
        lambda s: s.drop(f"{s.of_carrier('tray')}.tray.attitude"),
    ),
    Fault(
        "carrier-pin1-unproven",
        "a reel loaded unseen",
        lambda s: s.put(f"{s.diode().path}.reel.loaded", "2026-10-10"),
    ),
    # pads
    Fault(
        "placement-turned-from-pads",
        "one part of many turned in the list",
        lambda s: _one_turned(s, 180),
    ),
    Fault(
        "list-turned-from-pads",
        "a list declared at the other level",
        lambda s: _padded(s).put(f"{s.job}.placements.zero", "B"),
    ),
    Fault("outline-drawing-contradicts-pads", "an outline drawn the other way round", _drawing),
    Fault("polarity-errors-cancel", "a drawing off that picks and list make up for", _cancelling),
    Fault(
        "list-turned-from-pads",
        "a bottom list declared as mirrored that is not",
        _bottom_as_mirrored,
    ),
    # what polarity rests on
    Fault(
        "polarised-flag-contradicted",
        "a diode declared as unpolarised",
        lambda s: s.put(f"{s.diode().outline_path}.polarised", False),
    ),
    Fault(
        "polarised-flag-contradicted",
        "a diode declared as unpolarised since the record",
        lambda s: s.put(f"{s.diode().outline_path}.polarised", False),
        compares=True,
    ),
    Fault("polarised-flag-contradicted", "a square part of four terminals", _unnamed_square),
    Fault("outline-drawing-contradicts-pads", "pad 1 is the other terminal", _reversed_terminal),
    Fault(
        "rotation-convention-missing",
        "a passive without a zero level",
        lambda s: s.drop(f"{s.chip().outline_path}.zero"),
    ),
    Fault(
        "rotation-convention-missing",
        "a list without a zero level",
        lambda s: s.drop(f"{s.job}.placements.zero"),
    ),
    # against the record
    Fault("pick-rotation-wrong", "a feeder moved to another row", _across_rows, compares=True),
    Fault(
        "pick-rotation-wrong",
        "a reel changed, the pick kept",
        lambda s: s.change(f"{s.diode().path}.tape.pin1", lambda pin1: _OTHER[pin1]),
        compares=True,
    ),
    Fault(
        "pick-rotation-wrong",
        "a drawing changed, the picks kept",
        _drawn_anew,
        compares=True,
    ),
)
