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
    "soic-8": outline(terminals=8),
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
