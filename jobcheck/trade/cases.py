"""Case sizes: chip codes in inch and metric, and heights that a case can have.

Lengths are mm. A chip's code gives length and width in hundredths of an inch or tenths of a
millimetre, and the two readings collide: 0603 is 1.6 × 0.8 in inch and 0.6 × 0.3 in metric.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, NamedTuple

System = Literal["inch", "metric"]
"""Which code a case is read by."""

_RESISTORS = "Fenghua RC series datasheet"
_CAPACITORS = "Walsin MT series approval sheet, September 2017"
_KEMET = "KEMET X7R automotive datasheet, June 2018"
_MEMORY = "from memory"


class ChipCase(NamedTuple):
    """A two-terminal chip by its inch code; sizes are nominal and ± tolerance, mm.

    `resistor_height_mm` and `capacitor_height_max_mm` are None if no table was read. The
    source of length, width and resistor height is `source`; capacitor heights are those of
    the Walsin MT series approval sheet, September 2017.
    """

    inch: str
    metric: str
    length_mm: tuple[float, float]
    width_mm: tuple[float, float]
    resistor_height_mm: tuple[float, float] | None
    capacitor_height_max_mm: float | None
    source: str

    @property
    def body_mm(self) -> tuple[float, float]:
        """Nominal length and width."""
        return self.length_mm[0], self.width_mm[0]


class Heights(NamedTuple):
    """The heights that a case can have, mm, and their source."""

    low_mm: float
    high_mm: float
    source: str


_ROWS = (
    ("01005", "0402", (0.40, 0.02), (0.20, 0.02), (0.13, 0.02), None, _MEMORY),
    ("0201", "0603", (0.60, 0.05), (0.30, 0.05), (0.23, 0.05), 0.33, _RESISTORS),
    ("0402", "1005", (1.00, 0.10), (0.50, 0.10), (0.30, 0.10), 0.55, _RESISTORS),
    ("0603", "1608", (1.60, 0.15), (0.80, 0.15), (0.40, 0.10), 0.95, _RESISTORS),
    ("0805", "2012", (2.00, 0.20), (1.25, 0.15), (0.50, 0.10), 1.45, _RESISTORS),
    ("1206", "3216", (3.20, 0.20), (1.60, 0.15), (0.55, 0.10), 1.90, _RESISTORS),
    ("1210", "3225", (3.20, 0.20), (2.50, 0.20), (0.55, 0.10), 2.80, _RESISTORS),
    ("1812", "4532", (4.50, 0.30), (3.20, 0.30), None, None, _KEMET),
    ("2010", "5025", (5.00, 0.20), (2.50, 0.20), (0.55, 0.10), None, _RESISTORS),
    ("2220", "5750", (5.70, 0.40), (5.00, 0.40), None, None, _KEMET),
    ("2512", "6332", (6.40, 0.20), (3.20, 0.20), (0.55, 0.10), None, _RESISTORS),
)

CHIP_CASES: Mapping[str, ChipCase] = MappingProxyType({row[0]: ChipCase(*row) for row in _ROWS})
"""Chip cases by inch code. Source: each case names its own."""

_INCH_OF_METRIC: Mapping[str, str] = MappingProxyType(
    {case.metric: code for code, case in CHIP_CASES.items()}
    # Second spellings: 2125 and 6432 from memory, 5650 from the KEMET sheet.
    | {"2125": "0805", "6432": "2512", "5650": "2220"}
)

_CODE = re.compile(
    r"(?<![0-9.])(?:" + "|".join(sorted({*CHIP_CASES, *_INCH_OF_METRIC})) + r")(?![0-9]|\.[0-9])"
)


class CaseReading(NamedTuple):
    """One way to read a chip code."""

    code: str
    system: System
    case: ChipCase


def inch_to_metric(code: str) -> str | None:
    """The metric code of an inch code, `0603` to `1608`; None for an unknown code.

    Source: the tables that `CHIP_CASES` names.
    """
    case = CHIP_CASES.get(code)
    return case.metric if case else None


def readings(code: str) -> tuple[CaseReading, ...]:
    """Every way to read a code, inch before metric; none for an unknown code.

    `0603` has two, 1.6 × 0.8 and 0.6 × 0.3. Source: the tables that `CHIP_CASES` names.
    """
    return tuple(_readings(code))


def _readings(code: str) -> Iterator[CaseReading]:
    if code in CHIP_CASES:
        yield CaseReading(code, "inch", CHIP_CASES[code])
    if code in _INCH_OF_METRIC:
        yield CaseReading(code, "metric", CHIP_CASES[_INCH_OF_METRIC[code]])


def codes_in(name: str) -> tuple[str, ...]:
    """Chip codes in a name, in order: `cap-100n-0805` has `0805`.

    A code is not part of a longer number. Source: common practice, no published source.
    """
    return tuple(_CODE.findall(name))


IPC_CHIP = re.compile(
    r"(?<![A-Za-z])(?:RES|CAP|IND|LED|DIO|FUS|BEAD)([CM]?P?[CM]?)(\d{2})(\d{2})X(\d{2,3})(?!\d)",
    re.I,
)
"""The name of a chip by IPC-7351: tenths of a millimetre before the X, hundredths behind it."""


def chip_code(name: str, codes: Sequence[str] = (), system: str = "inch") -> str | None:
    """The inch code of the chip case in a name (or of `codes`); None where there is none.

    A code beside its other reading decides (`R_0201_0603Metric`); a name of IPC-7351 counts in
    millimetres; else `system` counts. Source: the tables that `CHIP_CASES` names.
    """
    codes = codes or codes_in(name)
    pairs = [code for code in codes if inch_to_metric(code) in codes]
    if pairs:
        return pairs[0]
    is_metric = "metric" in name.lower() or IPC_CHIP.search(name)
    wanted = "metric" if is_metric else system
    for code in codes[:1]:
        read = readings(code)
        fitting = [reading for reading in read if reading.system == wanted] or list(read)
        return fitting[0].case.inch if fitting else None
    return None


def has_body(case: ChipCase, body_mm: tuple[float, float], slack_mm: float = 0.0) -> bool:
    """Whether a body, whichever side is named first, is that case within its tolerances.

    Source: the tables that `CHIP_CASES` names.
    """
    length, width = max(body_mm), min(body_mm)
    return (
        abs(length - case.length_mm[0]) <= case.length_mm[1] + slack_mm + 1e-9
        and abs(width - case.width_mm[0]) <= case.width_mm[1] + slack_mm + 1e-9
    )


def readings_that_fit(
    code: str, body_mm: tuple[float, float], slack_mm: float = 0.0
) -> tuple[CaseReading, ...]:
    """The readings of a code that have this body; a metric one alone is a mix-up to look at.

    Source: the tables that `CHIP_CASES` names.
    """
    return tuple(r for r in readings(code) if has_body(r.case, body_mm, slack_mm))


def resistor_heights(case: ChipCase) -> Heights | None:
    """Heights of a chip resistor; None if no table was read.

    Never for a capacitor, which is taller. Source: the table that the case names.
    """
    if case.resistor_height_mm is None:
        return None
    nominal, tolerance = case.resistor_height_mm
    return Heights(nominal - tolerance, nominal + tolerance, case.source)


def chip_heights(case: ChipCase) -> Heights:
    """Heights of a chip of any kind, from the thinnest resistor to the tallest capacitor.

    The top is the capacitor table's, else the case's largest width; the bottom is the
    resistor table's, else 0. Source: the tables that `CHIP_CASES` names; that a capacitor is
    not taller than wide is common practice, no published source.
    """
    resistor = resistor_heights(case)
    low = resistor.low_mm if resistor else 0.0
    if case.capacitor_height_max_mm is not None:
        return Heights(low, case.capacitor_height_max_mm, _CAPACITORS)
    return Heights(low, sum(case.width_mm), "body width, common practice, no published source")


FAMILY_HEIGHTS: Mapping[str, Heights] = MappingProxyType(
    {
        "lqfp": Heights(1.35, 1.60, "JEDEC MS-026 family; the lower limit from memory"),
        "tqfp": Heights(0.95, 1.20, "JEDEC MS-026 family, from memory"),
        "qfn": Heights(0.70, 1.00, _MEMORY),
        "tssop": Heights(0.80, 1.20, "JEDEC MO-153, from memory"),
        "msop": Heights(0.75, 1.10, "JEDEC MO-187, from memory"),
        "soic": Heights(1.25, 2.65, "Microchip drawing C04-065 and 16-lead wide body"),
        "sot223": Heights(1.50, 1.80, _MEMORY),
        "sot23": Heights(0.89, 1.45, "Microchip drawing C04-104; more than 3 leads from memory"),
        "sod123": Heights(0.85, 1.35, _MEMORY),
        "sod323": Heights(0.80, 1.15, _MEMORY),
        "sma": Heights(1.90, 2.45, "ST DS1243 Table 4"),
    }
)
"""Heights of named package families. Source: each names its own."""

_FAMILY = re.compile(
    r"(?<![a-z])(lqfp|tqfp|qfn|tssop|msop|soic|sot[-_ ]?(?:223|23)|sod[-_ ]?(?:123|323)|sma)"
    r"(?![a-z]|(?<=[0-9])[0-9])"
)


def family_in(name: str) -> str | None:
    """The package family in a name, as `FAMILY_HEIGHTS` spells it; else None.

    `diode-fast-sod123` and `SOD-123` are both `sod123`.
    Source: common practice, no published source.
    """
    found = _FAMILY.search(name.lower())
    return re.sub(r"[-_ ]", "", found[1]) if found else None


def plausible_heights(name: str, body_mm: tuple[float, float] | None = None) -> Heights | None:
    """Heights that the case in a name can have; None if the name has no case.

    A family's name comes before a chip code. Of the readings of a code, the one that fits the body
    counts, else the one in inches. Source: the `source` of the answer.
    """
    family = family_in(name)
    if family:
        return FAMILY_HEIGHTS[family]
    for code in codes_in(name):
        fitting = readings_that_fit(code, body_mm) if body_mm else ()
        case = (fitting or readings(code))[0].case
        return chip_heights(case)
    return None
