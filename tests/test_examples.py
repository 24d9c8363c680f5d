"""The two examples: what they hold, that one is clean, and that the other says what went wrong."""

from collections import Counter
from datetime import date
from pathlib import Path as FilePath
from typing import Any

import pytest
from shapely import Point, Polygon, box

from jobcheck.findings import Level
from jobcheck.schema.job import Job
from jobcheck.shop.paths import show
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import folder_state
from jobcheck.trade.bodies import Body, corners
from tests.support.edited import linted

EXAMPLES = FilePath(__file__).resolve().parents[1] / "examples"
SEVEN = {
    "cameras.up.controls.auto_exposure": (1, 3),
    "cameras.up.controls.exposure_time_absolute": (100, 157),
    "cameras.up.controls.gain": (4, None),
    "cameras.up.controls.white_balance_automatic": (0, 1),
    "feeders.f07.slot": (7, 8),
    "feeders.f12.pick.rotation": (90, 270),
    "outlines.can-6x5.height_mm": (5.4, None),
}
"""What the bad days changed: from, to; None is missing."""


def read(name: str) -> Reading:
    reading = read_shop(folder_state(EXAMPLES / name))
    assert not reading.faults
    return reading


def understood(name: str) -> Shop:
    shop = read(name).shop
    assert shop is not None
    return shop


@pytest.fixture(scope="module")
def clean() -> Shop:
    return understood("soil-logger")


@pytest.fixture(scope="module")
def job(clean: Shop) -> Job:
    return clean.jobs["soil-logger"]


def test_clean_example_has_no_finding() -> None:
    assert linted(read("soil-logger"), today=date(2026, 11, 25)).findings == ()


def test_clean_example_ages_with_warnings_only() -> None:
    """Years later calibrations are old; nothing becomes an error by the calendar alone."""
    old = linted(read("soil-logger"), today=date(2036, 1, 1)).findings
    assert old
    assert {finding.level for finding in old} <= {Level.WARNING, Level.NOTE}


def test_drifted_example_names_each_cause_once(clean: Shop) -> None:
    findings = linted(read("soil-logger-drifted"), good=clean).findings
    assert [(finding.rule, show(finding.path)) for finding in findings] == [
        ("feeder-slot-wrong", "feeders.f07.slot"),
        ("pick-rotation-wrong", "feeders.f12.pick.rotation"),
        ("height-unknown", "outlines.can-6x5.height_mm"),
        ("camera-settings-lost", "cameras.up.controls"),
    ]
    assert {finding.level for finding in findings} == {Level.ERROR}


def test_drifted_example_says_what_is_endangered(clean: Shop) -> None:
    _, turned, height, lost = linted(read("soil-logger-drifted"), good=clean).findings
    assert "7 recognitions" in lost.consequence
    assert "80 of 84 placements" in lost.consequence
    for words in ("gain 4", "auto_exposure 1", "exposure_time_absolute 100"):
        assert words in lost.expected
    assert "C30" in height.observed
    assert height.expected == "5.4"
    assert "D1" in turned.consequence
    assert "D2" in turned.consequence


def leaves(value: Any, path: tuple[str, ...] = ()) -> dict[str, Any]:
    if isinstance(value, (dict, list)) and value:
        items = value.items() if isinstance(value, dict) else enumerate(value)
        return {
            place: leaf
            for key, item in items
            for place, leaf in leaves(item, (*path, str(key))).items()
        }
    return {show(path): value}


def test_bad_days_changed_seven_values(clean: Shop) -> None:
    before, after = leaves(clean.plain), leaves(understood("soil-logger-drifted").plain)
    changed = {
        path: (before.get(path), after.get(path))
        for path in before.keys() | after.keys()
        if before.get(path) != after.get(path)
    }
    assert changed == SEVEN


def test_bad_days_left_every_other_line() -> None:
    """Lines apart from those of the seven values are the same to the byte."""
    for file in read("soil-logger").files:
        before, after = (
            Counter((EXAMPLES / name / file).read_bytes().splitlines())
            for name in ("soil-logger", "soil-logger-drifted")
        )
        touched = {"placer.yaml": 4, "feeders.yaml": 2, "parts.yaml": 1}.get(file, 0)
        assert (before - after).total() == touched


def test_lost_controls_are_at_the_defaults_that_the_device_reports(clean: Shop) -> None:
    reported = clean.cameras["up"].reported
    for path, (_, now) in SEVEN.items():
        control = path.removeprefix("cameras.up.controls.")
        if control != path:
            assert reported[control].default == (now or 0)


def test_examples_are_of_realistic_size(clean: Shop, job: Job) -> None:
    assert clean.machine is not None
    assert len(clean.cameras) == 2
    assert len(clean.machine.spindles) == 2
    assert len(clean.machine.nozzles) >= 4
    assert len(clean.feeders) == 34
    assert len(clean.parts) == 25
    assert len(clean.outlines) >= 10
    assert len(clean.recognitions) == 7
    assert len(job.placements.by_reference) == 84
    assert {feeder.carrier for feeder in clean.feeders.values()} == {
        *("tape", "cut-tape", "stick", "tray")
    }
    assert len(read("soil-logger").files) == 7


def test_numbers_that_the_screens_show(clean: Shop, job: Job) -> None:
    placed = Counter(placement.part for placement in job.placements.by_reference.values())
    seen = {name for name, part in clean.parts.items() if clean.outlines[part.outline].recognition}
    assert len(seen) == 23
    assert sum(placed[name] for name in seen) == 80
    assert clean.feeders["f07"].part == "cap-100n-0603"
    assert placed["cap-100n-0603"] == 22
    assert clean.feeders["f12"].part == "diode-fast-sod123"
    by_reference = job.placements.by_reference
    fast = [r for r, placement in by_reference.items() if placement.part == "diode-fast-sod123"]
    assert fast == ["D1", "D2"]
    cans = [r for r, placement in by_reference.items() if "6x5" in str(placement.part)]
    assert cans == ["C30"]


def test_stock_covers_the_run(clean: Shop, job: Job) -> None:
    assert job.panel is not None
    assert job.run is not None
    boards = job.panel.columns * job.panel.rows * job.run.panels
    placed = Counter(placement.part for placement in job.placements.by_reference.values())
    largest: Counter[str] = Counter()
    for feeder in clean.feeders.values():
        assert feeder.part is not None
        largest[feeder.part] = max(largest[feeder.part], feeder.remaining or 0)
    short = {name for name, number in placed.items() if largest[str(name)] < 1.03 * number * boards}
    assert short == set()


def test_bodies_keep_their_distance(clean: Shop, job: Job) -> None:
    """Measured by shapely: between bodies, to the edge, to holes and to the marks' clear rings."""
    bodies = {}
    for reference, placement in job.placements.by_reference.items():
        outline = clean.outline_of(placement.part)
        assert outline is not None
        length, width = outline.body_mm
        body = Body((placement.x, placement.y), length, width, placement.rotation)
        bodies[reference] = Polygon(corners(body))
    board = box(0, 0, *job.board.size_mm)
    marks = [(mark.x, mark.y, 1.5) for mark in job.board.fiducials.values()]
    holes = [(hole.x, hole.y, 3.0) for hole in job.board.holes.values()]
    rings = [Point(x, y).buffer(radius) for x, y, radius in (*marks, *holes)]
    names = list(bodies)
    for index, name in enumerate(names):
        assert board.contains(bodies[name])
        assert bodies[name].distance(board.exterior) >= 1.0
        assert all(bodies[name].distance(ring) > 0 for ring in rings)
        for other in names[index + 1 :]:
            assert bodies[name].distance(bodies[other]) >= 0.5, f"{name} is too near to {other}"
