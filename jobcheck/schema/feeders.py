"""Feeders: which part is in which slot, how it is carried and where it is picked."""

from typing import Literal

from jobcheck.schema.fields import Described, count, derived, measurement, note, setting
from jobcheck.schema.values import Day, Key, Limits2, Pair, Point, Point3, PositivePair

Pin1InTape = Literal["forward", "q2", "holes", "q1", "backward", "q3", "plain_edge", "q4"]


class Tape(Described):
    """Carrier tape, EIA-481 / IEC 60286-3."""

    width_mm: float = setting("Width of the tape, mm.", unit="mm", gt=0, examples=[8])
    pocket_pitch_mm: float = setting(
        "From one pocket to the next, mm.", unit="mm", gt=0, examples=[4]
    )
    advance_mm: float = setting("Feed of one advance, mm.", unit="mm", gt=0, examples=[4])
    pockets_per_advance: int = setting("Pockets that one advance brings.", 1, ge=1)
    pin1: Pin1InTape | None = setting(
        "Where pin 1 is in the pocket: a quadrant for a corner pin, an edge for one in mid-side; "
        "`holes` is toward the round holes.",
        None,
    )
    pocket_mm: PositivePair | None = measurement(
        "Pocket along and across the tape, mm.", None, unit="mm"
    )
    pocket_depth_mm: float | None = measurement("Depth of the pocket, mm.", None, unit="mm", gt=0)
    hole: Point | None = measurement(
        "Centre of any round hole beside the pick, the tape at rest, machine frame, mm.", None
    )


class Stick(Described):
    """A stick: parts behind each other in a tube."""

    pitch_mm: float = setting("From one part to the next, mm.", unit="mm", gt=0)
    pin1: Pin1InTape | None = setting("Where pin 1 is, seen along the feed.", None)


class Tray(Described):
    """A tray of pockets; the feeder's pick is that of pocket 1, and they count along x first."""

    columns: int = setting("Pockets along x.", ge=1)
    rows: int = setting("Pockets along y.", ge=1)
    pitch_mm: Pair = setting("From one pocket to the next along x and y, mm.", unit="mm")
    next_pocket: int = count("The pocket that is picked next; the first is 1.", 1, ge=1)
    attitude: float | None = setting(
        "How the outline is turned in its pocket, machine frame, degrees.", None, unit="deg"
    )


class Reel(Described):
    """Which reel it is, and when somebody looked at it."""

    maker_number: str | None = note("The maker's number on the label.")
    lot: str | None = note("The lot on the label.")
    loaded: Day | None = note("The day it was loaded.")
    orientation_seen: Day | None = note("The day somebody looked which way the parts are turned.")
    opened: Day | None = note("The day its dry bag was opened.")
    baked: Day | None = note("The day it was last baked dry.")


class Pick(Point3):
    """Where and how the part is picked."""

    rotation: float = setting(
        "Attitude at pick: how the outline is turned, machine frame, degrees; neither a spindle "
        "angle nor a correction.",
        unit="deg",
    )
    measured_with: str | None = measurement(
        "The nozzle that was on the spindle when its height was measured.", None, names="nozzles"
    )


class Extent(Described):
    """What something takes up on the machine."""

    x: Limits2 = measurement("Its extent along x, mm.", unit="mm")
    y: Limits2 = measurement("Its extent along y, mm.", unit="mm")


class Feeder(Described):
    """One feeder."""

    row: str | None = setting("The row it is in.", None, names="feeder_rows")
    slot: int | None = setting("The slot it is in, from 1.", None)
    part: str | None = setting("The part it holds.", None, names="parts")
    carrier: Literal["tape", "cut-tape", "stick", "tray"] = setting("How the parts are carried.")
    tape: Tape | None = setting("The tape, for carriers tape and cut-tape.", None)
    stick: Stick | None = setting("The stick.", None)
    tray: Tray | None = setting("The tray.", None)
    body_width_mm: float | None = setting(
        "Width of the feeder itself where it is wider than its tape, mm.", None, unit="mm", gt=0
    )
    feed_direction: float | None = setting(
        "Direction in which pockets move where it is not the row's, degrees.", None, unit="deg"
    )
    extent: Extent | None = measurement(
        "What a cut tape or tray takes up on the bed; by its pockets where not given.", None
    )
    reel: Reel | None = note("The reel on it.")
    pick: Pick | None = measurement("Where the part is picked.", None)
    derived: dict[str, str] = derived()
    remaining: int | None = count("Parts that can be picked now; unknown is not zero.", None, ge=0)
    note: str | None = note("For people.")


class Feeders(Described):
    """The feeders of a shop."""

    describes: Literal["feeders"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    feeders: dict[Key, Feeder] = setting("Feeders by name.", {})
