"""Parts by what lists and bills call them."""

import pytest

from jobcheck.schema.parts import Outline, Part
from jobcheck.sources.lists.matching import PartCatalogue, outline_keys
from jobcheck.sources.lists.reading import PartName


def outline(**said) -> Outline:
    return Outline(**{"body_mm": [1.6, 0.8], "terminals": 2, "polarised": False, **said})


OUTLINES = {
    "chip-0603": outline(),
    "chip-0805": outline(body_mm=[2.0, 1.25]),
    "coil": outline(case="0603"),
    "soic-8": outline(body_mm=[4.9, 3.9], height_mm=1.75, terminals=8),
    "sod-123": outline(polarised=True),
}
PARTS = {
    "res-10k": Part(outline="chip-0603", value="10k", maker_number="SL-0206"),
    "res-4k7": Part(outline="chip-0603", value="4k7"),
    "cap-100n": Part(outline="chip-0603", value="100nF"),
    "cap-100n-big": Part(outline="chip-0805", value="100nF"),
    "cap-10u": Part(outline="chip-0603", value="10uF"),
    "coil-10u": Part(outline="coil", value="10uH"),
    "timer": Part(outline="soic-8", value="TMR-1", maker_number="SL 0501"),
    "timer-2": Part(outline="soic-8", value="TMR-1", maker_number="SL 0502"),
}
SHOP = PartCatalogue(PARTS, OUTLINES)


@pytest.mark.parametrize(
    ("named", "reference", "parts", "by"),
    [
        (PartName("res-10k"), "R1", ("res-10k",), "name"),
        (PartName("", "", "SL0206"), "R1", ("res-10k",), "maker_number"),
        (PartName("10K", "R_0603_1608Metric"), "R1", ("res-10k",), "value and outline"),
        (PartName("10 kOhm", "0603"), "R1", ("res-10k",), "value and outline"),
        (PartName("4.7k", "R_0603"), "R1", ("res-4k7",), "value and outline"),
        (PartName("0.1u", "C_0603"), "C1", ("cap-100n",), "value and outline"),
        (PartName("0,1µF", "C_0805_2012Metric"), "C1", ("cap-100n-big",), "value and outline"),
        (PartName("10u", "C_0603"), "C1", ("cap-10u",), "value and outline"),
        (PartName("10u", "L_0603"), "L1", ("coil-10u",), "value and outline"),
        (PartName("TMR-1", "SOIC-8_3.9x4.9mm"), "U1", ("timer", "timer-2"), "value and outline"),
        (PartName("10m", "R_0603"), "R1", (), ""),
        (PartName("10M", "R_0603"), "R1", (), ""),
        (PartName("10k", "R_0402"), "R1", (), ""),
        (PartName("10k"), "R1", (), ""),
        (PartName("", "R_0603"), "R1", (), ""),
    ],
)
def test_parts_are_found(named, reference, parts, by):
    match = SHOP.match(named, reference)
    assert (match.parts, match.by) == (parts, by)
    assert match.part == (parts[0] if len(parts) == 1 else None)


def test_a_value_alone_with_two_kinds_is_not_decided():
    assert set(SHOP.match(PartName("10u", "0603"), "X1").parts) == {"cap-10u", "coil-10u"}


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("R_0603_1608Metric", "chip 0603"),
        ("chip-0603", "chip 0603"),
        ("C_1608Metric", "chip 0603"),
        ("CAPC1608X90", "chip 0603"),
        ("RESC0603X26", "chip 0201"),
        ("LED_0603", "chip 0603"),
        ("R_0201_0603Metric", "chip 0201"),
        ("SOIC-8_3.9x4.9mm_P1.27mm", "soic8"),
        ("D_SOD-123", "sod123"),
    ],
)
def test_what_a_footprint_is_known_by(name, key):
    assert key in outline_keys(name)


def test_the_nearest_have_the_same_value_first():
    assert SHOP.nearest(PartName("100n", "C_0402"))[:2] == ("cap-100n", "cap-100n-big")


@pytest.mark.parametrize(
    ("named", "reference", "why"),
    [
        (PartName("100n", "LED_0603"), "C1", "LED in LED_0603 means polarised"),
        (PartName("100n", "LED0603"), "C1", ""),
        (PartName("100n", "D_0603"), "C1", "D in D_0603 means polarised"),
        (PartName("100n", "CP_0603"), "C1", "CP in CP_0603 means polarised"),
        (PartName("100n", "TANT-0603"), "C1", "TANT in TANT-0603 means polarised"),
        (PartName("100n", "C_0603_Polarized"), "C1", "Polarized in"),
        (PartName("100n", "0603"), "D1", "reference letter D means"),
        (PartName("100n", "0603"), "LED1", "reference letter LED means"),
        (PartName("TMR-1", "SOIC-8_5.3x5.3"), "U1", "5.3 x 5.3 mm, the outline 4.9 x 3.9 mm"),
        (PartName("TMR-1", "SOIC-8_3.9x4.9mm_H2.5"), "U1", "2.5 mm high, the outline 1.75 mm"),
        (PartName("TMR-1", "SOIC-8", terminals=14), "U1", "14 terminals, the outline 8"),
        (PartName("100n", "0603_LED"), "C1", "LED in 0603_LED means"),
        (PartName("100n", "DIO_0603"), "C1", "DIO in DIO_0603 means"),
        (PartName("100n", "CAP-TAN_0603"), "C1", "TAN in CAP-TAN_0603 means"),
        (PartName("100n", "DO-214AC_0603"), "X1", "DO-214AC_0603 is a polarised case"),
        (PartName("10k", "R_0603", "SL-9999"), "R1", "SL-9999, that of the part SL-0206"),
        (PartName("22k", "R_0603", "SL-0206"), "R1", "the value is 22k, that of the part 10k"),
        (PartName("10k", "0603", "SL-0206"), "LED1", "reference letter LED means polarised"),
        (PartName("res-10k", "LED_0603"), "D1", "LED in LED_0603 means polarised"),
    ],
)
def test_what_a_name_says_contradicts_a_join(named, reference, why):
    match = SHOP.match(named, reference)
    assert not match.parts
    assert not set(match.refused) & set(SHOP.nearest(named, reference))
    assert not why or match.refused
    assert all(why in said for said in match.refused.values())


def test_a_capacitor_of_another_height_is_another_part():
    tall = {"chip-0603": outline(height_mm=0.45)}
    shop = PartCatalogue({"cap": Part(outline="chip-0603", value="1u")}, tall)
    assert shop.match(PartName("1u", "CAPC1608X90"), "C1").refused == {
        "cap": "the name says 0.9 mm high, the outline 0.45 mm"
    }
    assert shop.match(PartName("1u", "CAPC1608X50"), "C1").part == "cap"


@pytest.mark.parametrize("value", ["3k9", "1uF", "1U", "4.7 k", "1M"])
def test_no_part_of_another_value_is_near(value):
    named = PartName(value, "R_0603")
    agreeing = {n for n, part in PARTS.items() if part.value in ("4k7",) and value == "4.7 k"}
    assert set(SHOP.nearest(named, "R1")) <= agreeing
    assert SHOP.nearest(PartName("res-3k9-0603"), "R1") == ()


def test_a_rating_is_part_of_the_value():
    shop = PartCatalogue({"cap": Part(outline="chip-0603", value="1u 16 V")}, OUTLINES)
    assert shop.match(PartName("1uF", "C_0603"), "C1").part == "cap"
    assert shop.match(PartName("1 uF 16V", "C_0603"), "C1").part == "cap"
    assert shop.match(PartName("1uF 50V", "C_0603"), "C1").part is None


def test_a_capacitor_takes_no_outline_of_a_diode():
    outlines = {"led-0603": outline(polarised=True), "cap-0603": outline()}
    shop = PartCatalogue({}, outlines)
    assert shop.outlines_for(PartName("10u", "CP_0603"), "C1") == ()
    assert shop.outlines_for(PartName("10u", "C_0603"), "C1") == ("cap-0603",)


def test_a_misspelled_name_is_near():
    assert SHOP.nearest(PartName("res-10k-0603"), "R1") == ("res-10k",)
