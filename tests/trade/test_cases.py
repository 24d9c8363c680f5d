"""Codes inside names, and what they can and cannot mean."""

import pytest

from jobcheck.trade.cases import (
    CHIP_CASES,
    chip_heights,
    codes_in,
    family_in,
    inch_to_metric,
    plausible_heights,
    readings,
    readings_that_fit,
)


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("chip-0603", ("0603",)),
        ("cap-100n-0805", ("0805",)),
        ("10k-0603", ("0603",)),
        ("C0402_x5r", ("0402",)),
        ("r01005", ("01005",)),
        ("LED_0603_1608Metric", ("0603", "1608")),
        ("bolt-10603", ()),
        ("06031", ()),
        ("1.0603", ()),
        ("0603.5", ()),
        ("0603.", ("0603",)),
        ("sot-23", ()),
    ],
)
def test_codes_in_names(name, codes):
    assert codes_in(name) == codes


def test_both_readings_of_a_code_that_collides():
    assert [(r.system, r.case.inch) for r in readings("0603")] == [
        ("inch", "0603"),
        ("metric", "0201"),
    ]
    assert [r.system for r in readings("1005")] == ["metric"]
    assert readings("9999") == ()


@pytest.mark.parametrize(
    ("body", "systems"),
    [
        ((1.6, 0.8), ["inch"]),
        ((0.8, 1.6), ["inch"]),
        ((0.6, 0.3), ["metric"]),
        ((2.0, 1.25), []),
    ],
)
def test_the_body_tells_which_reading(body, systems):
    assert [r.system for r in readings_that_fit("0603", body)] == systems


def test_metric_codes():
    assert inch_to_metric("9999") is None
    assert inch_to_metric("0603") == "1608"
    assert [r.case.inch for r in readings("5650")] == ["2220"]


@pytest.mark.parametrize(
    ("name", "family"),
    [
        ("diode-fast-sod123", "sod123"),
        ("SOD-123", "sod123"),
        ("sod-1234", None),
        ("sot-223", "sot223"),
        ("SOT_23-5", "sot23"),
        ("LQFP-100_14x14", "lqfp"),
        ("uqfn-16", None),
        ("small-part", None),
        ("diode-sma", "sma"),
    ],
)
def test_families(name, family):
    assert family_in(name) == family


@pytest.mark.parametrize(
    ("name", "body", "low", "high"),
    [
        ("chip-0603", None, 0.3, 0.95),
        ("chip-0603", (0.6, 0.3), 0.18, 0.33),
        ("sod-123", (2.7, 1.6), 0.85, 1.35),
    ],
)
def test_heights(name, body, low, high):
    heights = plausible_heights(name, body)
    assert heights is not None
    assert (heights.low_mm, heights.high_mm) == pytest.approx((low, high))


def test_a_name_without_a_case_has_no_heights():
    assert plausible_heights("can-6x5") is None


def test_without_a_table_the_width_bounds_a_chip():
    heights = chip_heights(CHIP_CASES["1812"])
    assert (heights.low_mm, heights.high_mm) == (0, 3.5)
    assert plausible_heights("chip-1812") == heights
