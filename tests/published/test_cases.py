"""Chip and package sizes against makers' tables."""

import pytest

from jobcheck.trade.cases import (
    CHIP_CASES,
    FAMILY_HEIGHTS,
    chip_heights,
    has_body,
    readings,
    resistor_heights,
)

# Fenghua RC series datasheet: length, width, height and their tolerances.
RESISTORS = {
    "0201": (0.60, 0.05, 0.30, 0.05, 0.23, 0.05),
    "0402": (1.00, 0.10, 0.50, 0.10, 0.30, 0.10),
    "0603": (1.60, 0.15, 0.80, 0.15, 0.40, 0.10),
    "0805": (2.00, 0.20, 1.25, 0.15, 0.50, 0.10),
    "1206": (3.20, 0.20, 1.60, 0.15, 0.55, 0.10),
    "1210": (3.20, 0.20, 2.50, 0.20, 0.55, 0.10),
    "2010": (5.00, 0.20, 2.50, 0.20, 0.55, 0.10),
    "2512": (6.40, 0.20, 3.20, 0.20, 0.55, 0.10),
}


@pytest.mark.parametrize("code", RESISTORS)
def test_chip_resistors(code):
    case = CHIP_CASES[code]
    told = (case.length_mm, case.width_mm, case.resistor_height_mm)
    length, width, height = RESISTORS[code][:2], RESISTORS[code][2:4], RESISTORS[code][4:]
    assert told == (length, width, height)


# Walsin MT series approval sheet, September 2017: nominal thickness and upper tolerance.
CAPACITORS = {
    "0201": [(0.30, 0.03)],
    "0402": [(0.50, 0.05)],
    "0603": [(0.80, 0.07), (0.80, 0.15)],
    "0805": [(0.60, 0.10), (0.80, 0.10), (1.25, 0.10), (1.25, 0.20)],
    "1206": [(0.80, 0.10), (0.95, 0.10), (1.25, 0.10), (1.15, 0.15), (1.60, 0.20), (1.60, 0.30)],
    "1210": [(0.95, 0.10), (1.25, 0.10), (1.60, 0.20), (2.00, 0.20), (2.50, 0.30)],
}


@pytest.mark.parametrize("code", CAPACITORS)
def test_chip_capacitors(code):
    tallest = max(nominal + plus for nominal, plus in CAPACITORS[code])
    heights, resistor = chip_heights(CHIP_CASES[code]), resistor_heights(CHIP_CASES[code])
    assert heights.high_mm == pytest.approx(tallest)
    assert all(heights.low_mm <= nominal <= heights.high_mm for nominal, _ in CAPACITORS[code])
    assert resistor is not None
    assert heights.high_mm > resistor.high_mm


@pytest.mark.parametrize("case", CHIP_CASES.values(), ids=lambda case: case.inch)
def test_codes_are_rounded_sizes(case):
    """A code is its size: two digits each of 0.01 inch and of 0.1 mm, as makers round them."""
    if case.inch != "01005":
        inches = int(case.inch[:2]) * 0.254, int(case.inch[2:]) * 0.254
        assert case.body_mm == pytest.approx(inches, abs=0.16)
    tenths = int(case.metric[:2]) / 10, int(case.metric[2:]) / 10
    assert case.body_mm == pytest.approx(tenths, abs=0.11)


@pytest.mark.parametrize(
    ("code", "body"),
    [("0402", (1.05, 0.54)), ("0603", (1.6, 0.825)), ("0805", (2.0, 1.25)), ("1206", (3.2, 1.6))],
)
def test_footprints_are_recognised(code, body):
    """Bodies R_0402, R_0603, R_0805 and C_1206 of Debian's kicad-footprints 6.0.11-1."""
    assert has_body(CHIP_CASES[code], body)


@pytest.mark.parametrize(
    ("metric", "body"), [("0402", (0.4, 0.2)), ("0603", (0.6, 0.3)), ("1005", (1.0, 0.5))]
)
def test_codes_that_collide(metric, body):
    """Inch 0201 is metric 0603, inch 0402 metric 1005, inch 01005 metric 0402 (Fenghua)."""
    (reading,) = (r for r in readings(metric) if r.system == "metric")
    assert reading.case.body_mm == body


@pytest.mark.parametrize(
    ("family", "heights"),
    [
        ("lqfp", [1.40, 1.60]),  # JEDEC MS-026 family, 128-pin sheet: A at most 1.60
        ("sma", [1.90, 2.45]),  # ST DS1243 Table 4
        ("sot23", [0.89, 1.12, 1.05, 1.25]),  # Microchip C04-104; Union SOT23-3 005-2928-03
        ("soic", [1.40, 1.75, 2.06, 2.65]),  # Diodes SO-16; Microchip 16-lead wide body
    ],
)
def test_packages(family, heights):
    told = FAMILY_HEIGHTS[family]
    assert all(told.low_mm <= height <= told.high_mm for height in heights)
    assert not told.low_mm <= 10 * heights[0] <= told.high_mm
