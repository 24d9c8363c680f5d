"""A job: the board, its panel, its seat, and the placements."""

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, StringConstraints, model_validator

from jobcheck.schema.fields import Described, count, derived, measurement, note, setting
from jobcheck.schema.parts import Zero
from jobcheck.schema.values import Day, Key, Mark, Pair, Point, PositivePair

Side = Literal["top", "bottom"]
Bottom = Literal["as-placed", "through-top-mirrored-y", "through-top-mirrored-x"]
BottomPositions = Literal["through-top", "as-placed", "x-negated"]


_LAYER_ENDINGS = (".gbr", ".gbx", ".ger")


def is_component_layer(file: object, format: object = None) -> bool:
    """Tell whether a list is a component layer of Gerber X3: as declared, else by its ending."""
    if format is not None:
        return format == "gerber-x3"
    return isinstance(file, str) and file.lower().endswith(_LAYER_ENDINGS)


class Hole(Described):
    """A hole in the board or panel."""

    x: float = measurement("Centre along x, mm.", unit="mm")
    y: float = measurement("Centre along y, mm.", unit="mm")
    diameter_mm: float = measurement("Diameter, mm.", unit="mm", gt=0)


class Board(Described):
    """One board, seen from the side being placed."""

    size_mm: PositivePair = measurement("Width and height, mm.", unit="mm", examples=[[60, 40]])
    thickness_mm: float | None = measurement(
        "Thickness, mm.", None, unit="mm", gt=0, examples=[1.6]
    )
    fiducials: dict[Key, Mark] = measurement("Fiducials by name.", {})
    holes: dict[Key, Hole] = measurement("Holes by name.", {})
    derived: dict[str, str] = derived()


class Panel(Described):
    """Several boards in one sheet."""

    columns: int = setting("Cells along x.", ge=1, le=1000)
    rows: int = setting("Cells along y.", ge=1, le=1000)
    pitch_mm: PositivePair = measurement("From one cell to the next along x and y, mm.", unit="mm")
    origin_mm: list[float] = measurement(
        "Lower left corner of the first cell in the panel, mm: the rails' width.",
        [0, 0],
        unit="mm",
        min_length=2,
        max_length=2,
    )
    size_mm: PositivePair | None = measurement(
        "Width and height of the panel, mm.", None, unit="mm"
    )
    cell_gap_mm: float | None = measurement(
        "Free room from a board's edge to the next board, which an overhang may use, mm; pitch "
        "less board where not given.",
        None,
        unit="mm",
        ge=0,
    )
    rail_gap_mm: float = measurement(
        "Free room from a board's edge to the rail, which an overhang may use, mm.",
        0,
        unit="mm",
        ge=0,
    )
    half_turned: list[str] = setting(
        "Cells turned by a half turn, as `column-row`.", [], examples=[["1-1"]]
    )
    fiducials: dict[Key, Mark] = measurement("Fiducials of the panel by name.", {})
    skip: list[str] = setting("Cells not to be built, as `column-row`.", [], examples=[["2-3"]])

    def has_cell(self, name: str) -> bool:
        """Tell whether `name` (`column-row`, both from 1) is a cell of the panel."""
        cell = re.fullmatch(r"([1-9]\d{0,3})-([1-9]\d{0,3})", name)
        return cell is not None and int(cell[1]) <= self.columns and int(cell[2]) <= self.rows


class Seat(Described):
    """Where the board or panel is held in the machine."""

    x: float = measurement("Its lower left corner, mm.", unit="mm")
    y: float = measurement("Its lower left corner, mm.", unit="mm")
    z: float = measurement("Height of the bare placing surface, mm.", unit="mm")
    support_z: float | None = measurement(
        "Height of the support under the board, mm: z less the board's thickness.", None, unit="mm"
    )
    clearance_below_mm: float | None = measurement(
        "Free height under the board for the parts on its underside, mm.", None, unit="mm", ge=0
    )
    rotation: float = measurement("Turn of the board, degrees.", 0, unit="deg")
    measured_on: Day | None = note("The day on which x, y and z were measured.")
    measured_with: str | None = measurement(
        "The nozzle that was on the spindle when its height was measured.", None, names="nozzles"
    )
    measured: dict[Key, Point] = measurement(
        "Where fiducials were found, machine frame, mm, by their names: those of the panel, else "
        "of the board; fiducials of one cell with the cell before them.",
        {},
        examples=[{"m1": {"x": 155.02, "y": 115.01}, "1-2-m1": {"x": 155.1, "y": 158.0}}],
    )


class Placement(Described):
    """One part at one position on a board."""

    part: str | None = setting("The part to place.", None, names="parts")
    x: float = setting("Position on the board along x, mm.", unit="mm")
    y: float = setting("Position on the board along y, mm.", unit="mm")
    rotation: float = setting("Rotation as listed, degrees.", 0, unit="deg")
    side: Side = setting("The side it is placed on.", "top")
    fitted: bool = setting("Whether it is placed at all.", True)
    order: int | None = setting(
        "When it is placed: those with a lower number before, those without one as 0.", None
    )
    pin1_x: float | None = setting(
        "Centre of pad 1 on the board along x, mm, stated as the position is.", None, unit="mm"
    )
    pin1_y: float | None = setting("Centre of pad 1 along y, mm.", None, unit="mm")


class Columns(Described):
    """Names of the columns of a list where they are not the usual ones."""

    reference: str | None = setting("Column of the reference.", None)
    part: str | None = setting("Column of the part.", None)
    x: str | None = setting("Column of the position along x.", None)
    y: str | None = setting("Column of the position along y.", None)
    rotation: str | None = setting("Column of the rotation.", None)
    side: str | None = setting("Column of the side.", None)
    mirror: str | None = setting("Column that marks what is on the bottom.", None)
    fitted: str | None = setting("Column that says whether a part is fitted.", None)
    not_fitted: str | None = setting("Column that marks what is not fitted (DNP).", None)
    mount: str | None = setting("Column that says surface or through-hole mounting.", None)
    value: str | None = setting("Column of the value, where no column names the part.", None)
    footprint: str | None = setting("Column of the footprint or package.", None)
    maker_number: str | None = setting("Column of the maker's number.", None)
    pin1_x: str | None = setting("Column of the centre of pad 1 along x.", None)
    pin1_y: str | None = setting("Column of the centre of pad 1 along y.", None)


class ListFile(Described):
    """How a list's file is read; what is not declared must be in the list itself."""

    file: str | None = setting("The list, beside the job.", None, examples=["placements.csv"])
    columns: Columns | None = setting("Names of the list's columns.", None)
    encoding: str | None = setting(
        "Encoding of the list; UTF-8 where not given.", None, examples=["windows-1252"]
    )
    delimiter: Literal["comma", "semicolon", "tab", "exclamation", "pipe", "aligned"] | None = (
        setting("What separates its cells; aligned: blanks.", None)
    )


Fingerprint = Annotated[str, StringConstraints(pattern=r"^p-[0-9a-f]{12}$")]
"""What a look at pin 1 covered; `jobcheck checked` writes it."""


class Look(Described):
    """Somebody compared pin 1 of placements with the board or its drawing."""

    date: Day = note("The day of the last look.", ..., examples=["2026-10-02"])
    under: dict[Key, Fingerprint] = note(
        "Reference -> fingerprint of what was looked at; a look counts while it fits.",
        {},
        examples=[{"D1": "p-04e1a77b90c2"}],
    )


def _day_alone(value: Any) -> Any:
    return value if value is None or isinstance(value, (dict, Look)) else {"date": value}


class Placements(ListFile):
    """The placements: a list in a file, or written here keyed by reference.

    A component layer of Gerber X3 declares its own convention for the bottom and its zero.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, Placement]

    format: Literal["delimited", "gerber-x3"] | None = setting(
        "Delimited text or a component layer; by the file's ending where not given.", None
    )
    units: Literal["mm", "mil", "inch", "um", "cm"] | None = setting(
        "Units of the list's positions, where the list does not say them.", None
    )
    decimal: Literal[".", ","] | None = setting("Decimal mark of the list.", None)
    origin_mm: Pair = setting("Where the list's origin is on the board, mm.", [0, 0], unit="mm")
    side: Side | None = setting("The side of all its parts, where no column says it.", None)
    zero: Zero | None = setting("Zero orientation of the list, IEC 61188-7 level.", None)
    bottom: Bottom | None = setting("How the list states rotations on the bottom.", None)
    bottom_positions: BottomPositions | None = setting(
        "How the list states positions on the bottom: seen through the top, as placed with x from "
        "the board's right edge, or through the top with x negated. Through the top where not "
        "given.",
        None,
    )
    pin1_checked: (
        Annotated[Look, BeforeValidator(_day_alone, json_schema_input_type=Look | Day)] | None
    ) = note(
        "A look at pin 1 of placements, which `jobcheck checked` records; a day alone declares "
        "that pin 1 of every polarised part was compared with the board or its drawing."
    )

    @model_validator(mode="before")
    @classmethod
    def _as_the_format_says(cls, block: Any) -> Any:
        """Fill in what a component layer declares: Gerber Layer Format Specification, 5.6.16."""
        if not isinstance(block, dict) or not is_component_layer(
            block.get("file"), block.get("format")
        ):
            return block
        return {
            "zero": "A",
            "bottom": "through-top-mirrored-y",
            "bottom_positions": "through-top",
            **block,
        }

    @property
    def by_reference(self) -> dict[str, Placement]:
        """Each placement by its reference, in the order of the list."""
        return self.__pydantic_extra__


class BillItem(Described):
    """What the bill of materials says of one reference."""

    part: str | None = setting("The part.", None, names="parts")
    fitted: bool = setting("Whether it is fitted.", True)


class Bill(ListFile):
    """The bill of materials: a file, or written here keyed by reference."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, BillItem]

    @property
    def by_reference(self) -> dict[str, BillItem]:
        """Each line of the bill by its reference, in the order of the bill."""
        return self.__pydantic_extra__


class Run(Described):
    """How much is to be built."""

    panels: int = count("Panels, or boards if there is no panel.", ge=1)
    paste_um: float | None = setting("Thickness of the printed paste, um.", None, unit="um", gt=0)
    dry_run_tape_um: float | None = setting(
        "Thickness of the tape of a dry run, um.", None, unit="um", gt=0
    )


class JobDraft(Described):
    """A job as far as it is described: only its list is required.

    What needs its side, board or seat is not checked until all three are there.
    """

    describes: Literal["job"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    side: Side | None = setting("The side that is built.", None)
    board: Board | None = measurement("The board.", None)
    panel: Panel | None = setting("The panel, where several boards hang together.", None)
    seat: Seat | None = measurement("Where board or panel is.", None)
    order: Literal["lowest-first", "as-listed"] = setting(
        "In which order parts are placed, where their own numbers are alike.", "lowest-first"
    )
    underside: Literal["bare", "placed"] | None = setting(
        "Whether the side that looks down bears its parts already.", None
    )
    placements: Placements = setting("What goes where.", changed="the list is read otherwise")
    bill: Bill | None = setting(
        "The bill of materials.",
        None,
        changed="the bill is read otherwise, or asks for other parts",
    )
    run: Run | None = setting(
        "How much is to be built.",
        None,
        changed="time, stock and depth are computed for another run",
    )
    derived: dict[str, str] = derived()
    note: str | None = note("For people.")

    @model_validator(mode="after")
    def _cells_exist(self) -> "JobDraft":
        if self.panel is None:
            return self
        for cell in [*self.panel.half_turned, *self.panel.skip]:
            if not self.panel.has_cell(cell):
                raise ValueError(
                    f"the panel has no cell {cell}: cells are column-row, "
                    f"1-1 to {self.panel.columns}-{self.panel.rows}"
                )
        return self

    @property
    def lacks(self) -> tuple[str, ...]:
        """Which of side, board and seat are not described."""
        return tuple(name for name in WHOLE if getattr(self, name) is None)


WHOLE = ("side", "board", "seat")
"""What makes a job whole, so that its placements have a place on the machine."""


class Job(JobDraft):
    """One job: a board and what is placed on it."""

    side: Side = setting("The side that is built.")
    board: Board = measurement("The board.")
    seat: Seat = measurement("Where board or panel is.")
