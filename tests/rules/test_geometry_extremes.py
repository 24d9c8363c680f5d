"""Numbers at the end of what floats hold: whatever is said, no rule breaks on them."""

from collections.abc import Iterator
from typing import Any

import pytest

from jobcheck.sources.shop_reader import Reading
from tests.support.edited import edited, linted

JOB = "jobs.first-board"
RICH = f"""
{JOB}.panel: {{columns: 3, rows: 2, pitch_mm: [43, 33], origin_mm: [5, 0], size_mm: [140, 70]}}
{JOB}.panel.half_turned: ["2-1"]
{JOB}.panel.fiducials.p1: {{x: 2, y: 2, diameter_mm: 1.0}}
{JOB}.panel.fiducials.p2: {{x: 138, y: 60, diameter_mm: 1.0}}
{JOB}.board.holes.h1: {{x: 35, y: 5, diameter_mm: 2}}
{JOB}.board.fiducials.m3: {{x: 4, y: 26, diameter_mm: 1.0, clear_mm: 0.5}}
{JOB}.seat.measured.p1: {{x: 152, y: 112}}
{JOB}.seat.measured.p2: {{x: 288, y: 170}}
{JOB}.seat.measured.1-1-m3: {{x: 159, y: 136}}
{JOB}.seat.support_z: -21.6
{JOB}.seat.clearance_below_mm: 5
{JOB}.underside: placed
{JOB}.order: as-listed
outlines.soic-8.overhang_mm: 1
outlines.soic-8.open_below_mm: 0.2
spindles.a.diameter_mm: 8
obstacles.clamp: {{x: [140, 149], y: [110, 120], top_z: -18}}
"""
GEOMETRY = ("jobs", "outlines", "obstacles", "travel", "spindles", "nozzles")
ENDS = ("1e308", "-1e308", "1.7e308", "5e-324", "1e5", "-99999", "0")


@pytest.fixture(scope="module")
def rich() -> Reading:
    return edited(RICH)


def numbers(plain: Any, path: str) -> Iterator[str]:
    if isinstance(plain, (dict, list)):
        for key, value in plain.items() if isinstance(plain, dict) else enumerate(plain):
            yield from numbers(value, f"{path}.{key}")
    elif isinstance(plain, (int, float)) and not isinstance(plain, bool):
        yield path


def test_no_rule_breaks_on_a_number(rich: Reading) -> None:
    assert rich.shop is not None
    paths = [at for top in GEOMETRY for at in numbers(rich.shop.plain[top], top)]
    assert len(paths) > 100
    linted_ones = 0
    for index, path in enumerate(paths):
        for end in (ENDS[index % len(ENDS)], ENDS[(index + 3) % len(ENDS)]):
            try:
                reading = edited(f"{path}: {end}", base=rich)
            except AssertionError:  # no value of that field
                continue
            linted(reading)
            linted_ones += 1
    assert linted_ones > 100


def test_no_rule_breaks_where_all_positions_are_far_off(rich: Reading) -> None:
    assert rich.shop is not None
    paths = [at for at in numbers(rich.shop.plain["jobs"], "jobs") if at.endswith((".x", ".y"))]
    for end in ENDS:
        reading = edited("\n".join(f"{path}: {end}" for path in paths), base=rich)
        assert linted(reading).findings
