"""Parts: case outlines, how they are recognised, and the orderable items."""

from typing import Literal

from jobcheck.schema.fields import Described, derived, measurement, note, setting
from jobcheck.schema.values import Day, Key, PositivePair
from jobcheck.trade.polarity import symmetry

PictureAttitude = Literal["as-picked", "as-placed", "as-drawn"]
Pin1AtZero = Literal[
    "right", "upper_right", "top", "upper_left", "left", "lower_left", "bottom", "lower_right"
]
Zero = Literal["A", "B"]
Terminal = Literal["cathode", "anode", "plus", "minus", "pin 1"]
MoistureLevel = Literal["1", "2", "2a", "3", "4", "5", "5a", "6"]


class Outline(Described):
    """A case shape, drawn at 0 and seen from above."""

    body_mm: PositivePair = measurement(
        "Body along x and y when drawn at 0, mm.", unit="mm", examples=[[1.6, 0.8]]
    )
    over_terminals_mm: PositivePair | None = measurement(
        "Size across body and terminals along x and y when drawn at 0, mm; unknown: the body is "
        "used.",
        None,
        unit="mm",
        examples=[[3.7, 1.6]],
    )
    height_mm: float | None = measurement(
        "Height above the board, mm; unknown is not zero.", None, unit="mm", ge=0, examples=[0.45]
    )
    overhang_mm: float | None = setting(
        "How far it may extend over the board's edge, mm, as connectors do; 0 is flush.",
        None,
        unit="mm",
        ge=0,
    )
    open_below_mm: float | None = measurement(
        "Free height under the body, mm, for lower parts, as under a shield.",
        None,
        unit="mm",
        ge=0,
    )
    terminals: int = setting("Number of terminals.", ge=1)
    terminal_mm: float | None = measurement(
        "Width of the narrowest terminal, mm.", None, unit="mm", gt=0
    )
    flat_mm: PositivePair | None = measurement(
        "Flat of the top that a tip can hold, along x and y, mm; the body where not given.",
        None,
        unit="mm",
    )
    polarised: bool = setting("Whether it matters which way round it is placed.")
    same_turned_deg: Literal[90, 180] | None = setting(
        "The turn after which an unpolarised part of more than two terminals looks and works the "
        "same, degrees.",
        None,
        unit="deg",
    )
    pin1_means: Terminal | None = setting("Which terminal pin 1 is.", None, examples=["cathode"])
    pin1_at_zero: Pin1AtZero | None = setting(
        "Where pin 1 is when drawn at 0, from the centre.", None
    )
    zero: Zero | None = setting("Level of the drawing, IEC 61188-7.", None)
    pad1_at_zero: Pin1AtZero | None = setting(
        "Where pad 1 is in the footprint that lists are drawn with, at 0, from the centre.", None
    )
    pad1_means: Terminal | None = setting(
        "Which terminal pad 1 of the footprint is.", None, examples=["cathode"]
    )
    pin1_checked: Day | None = note(
        "The day somebody compared pin 1 of the drawing with the footprint."
    )
    case: str | None = setting(
        "Code of a chip case where the name does not carry it, in inches.", None, examples=["0603"]
    )
    case_system: Literal["inch", "metric"] = setting(
        "How the code of a chip case counts: 0603 is 1.6 mm long in inches, 0.6 mm in metric.",
        "inch",
    )
    mass_mg: float | None = measurement("Mass, mg.", None, unit="mg", gt=0)
    press_mm: float = setting("How far it is pressed into the paste, mm.", 0, unit="mm", ge=0)
    nozzles: list[str] = setting("Nozzles that can lift it.", [], names="nozzles")
    recognition: str | None = setting("How it is found and measured.", None, names="recognitions")
    derived: dict[str, str] = derived()

    @property
    def size_field(self) -> str:
        """The field that gives `size_mm`: `over_terminals_mm`, or `body_mm` where it is unknown.

        A part with bent leads is larger than its body, so an error needs `over_terminals_mm`.
        """
        return "over_terminals_mm" if self.over_terminals_mm else "body_mm"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Size across body and terminals along x and y at 0, mm; the body where it is unknown."""
        length, width = self.over_terminals_mm or self.body_mm
        return length, width

    @property
    def symmetry(self) -> float:
        """The smallest turn that leaves the part as good as before, degrees."""
        length, width = self.body_mm
        return symmetry(
            terminals=self.terminals,
            polarised=self.polarised,
            length_mm=length,
            width_mm=width,
            same_turned_deg=self.same_turned_deg,
        )

    @property
    def is_pad1_opposite(self) -> bool | None:
        """Whether pad 1 of the footprint is the other terminal than pin 1; None is unknown.

        Two terminals need both named; pad 1 of a part with more is the pad of pin 1 unless both
        are named as opposite ones (common practice, no published source).
        """
        named = {self.pin1_means, self.pad1_means} - {None}
        if named in ({"cathode", "anode"}, {"plus", "minus"}):
            return True
        is_same = self.pin1_means == self.pad1_means and self.pad1_means is not None
        return False if is_same or self.terminals > 2 else None


class Recognition(Described):
    """How one outline is found and measured by one camera."""

    camera: str = setting("The camera that takes its picture.", names="cameras")
    light_channel: str | None = setting(
        "Its lighting channel; the camera's own if not given.", None
    )
    light_percent: float | None = setting(
        "Brightness, percent; the camera's own if not given.",
        None,
        unit="percent",
        ge=0,
        le=100,
    )
    threshold_grey: float | None = setting(
        "Grey level that separates the part from the background.", None, unit="grey"
    )
    expect_mm: PositivePair | None = setting(
        "Expected size in the picture, along x and y at 0, mm.", None, unit="mm"
    )
    tolerance_mm: float | None = setting("How far the size may differ, mm.", None, unit="mm", gt=0)
    views: int = setting("How many pictures one part takes.", 1, ge=1)
    picture_attitude: PictureAttitude | None = setting(
        "How the part is turned when its picture is taken: as it was picked, as it will be placed, "
        "or as the outline is drawn.",
        None,
    )
    tuned: Day | None = note(
        "The day of the stamp; `jobcheck retuned` writes it.",
        changed="events are compared with another day of tuning",
    )
    tuned_under: str | None = setting(
        "Fingerprint of the camera it was tuned under; `jobcheck retuned` writes it.",
        None,
        pattern=r"^k-[0-9a-f]{12}$",
        examples=["k-6f1c09a2b7d4"],
        changed="the tuning is judged by the new stamp",
    )
    derived: dict[str, str] = derived()
    note: str | None = note("For people.")


class Part(Described):
    """One orderable item."""

    outline: str = setting("Its case shape.", names="outlines")
    value: str | None = setting("Its value, as written.", None, examples=["10k"])
    maker_number: str | None = setting("The maker's number, as written.", None)
    height_mm: float | None = measurement(
        "Height where it differs from the outline's, mm.", None, unit="mm", ge=0
    )
    mass_mg: float | None = measurement(
        "Mass where it differs from the outline's, mg.", None, unit="mg", gt=0
    )
    attrition_percent: float | None = setting(
        "Parts lost in placing where it differs from the limit, percent.",
        None,
        unit="percent",
        ge=0,
        le=100,
    )
    moisture_level: MoistureLevel | None = setting("Moisture sensitivity level, J-STD-020.", None)
    derived: dict[str, str] = derived()
    note: str | None = note("For people.")


class Parts(Described):
    """Outlines, recognitions and parts of a shop."""

    describes: Literal["parts"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    outlines: dict[Key, Outline] = setting("Outlines by name.", {})
    recognitions: dict[Key, Recognition] = setting("Recognitions by name.", {})
    parts: dict[Key, Part] = setting("Parts by name.", {})
