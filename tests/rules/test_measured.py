"""Measured marks: every planted cause is named by its own rule, whatever the seat and the side."""

import math
import random

import pytest

from jobcheck.facts.frames import Frames
from jobcheck.trade.plane import Point, turned
from tests.support.edited import edited, linted

JOB = "jobs.first-board"
BOARD = {2: "m1 m2", 3: "m1 m2 m3", 4: "m1 m2 m3 m4", 5: "m1 m2 m3 m4 m5"}
MARKS = {"m1": (6, 6), "m2": (94, 66), "m3": (6, 74), "m4": (94, 9), "m5": (52, 71)}


def described(names: list[str]) -> str:
    lines = [f"{JOB}.board.size_mm: [100, 80]"]
    lines += [f"{JOB}.board.fiducials.{mark}: ~" for mark in ("m1", "m2")]
    for name in names:
        x, y = MARKS[name]
        lines.append(f"{JOB}.board.fiducials.{name}: {{x: {x}, y: {y}, diameter_mm: 1.0}}")
    return "\n".join(lines)


def measured(seen: dict[str, Point]) -> str:
    return "\n".join(
        f"{JOB}.seat.measured.{name}: {{x: {x!r}, y: {y!r}}}" for name, (x, y) in seen.items()
    )


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


def nominal(names: list[str], seat: str) -> dict[str, Point]:
    shop = edited(f"{described(names)}\n{seat}").shop
    assert shop is not None
    frames = Frames(shop.jobs["first-board"])
    points = {name: frames.mark(name) for name in names}
    return {name: frames.on_seat(at) for name, at in points.items() if at is not None}


SEATS = [
    f"{JOB}.seat.rotation: 0",
    f"{JOB}.seat.rotation: 90\n{JOB}.seat.x: 250",
    f"{JOB}.seat.rotation: 180\n{JOB}.seat.x: 260\n{JOB}.seat.y: 200",
]


def about(points: dict[str, Point], change) -> dict[str, Point]:
    """Move points by a function of their distance from their first."""
    x0, y0 = next(iter(points.values()))
    return {
        name: (x0 + change(x - x0, y - y0)[0], y0 + change(x - x0, y - y0)[1])
        for name, (x, y) in points.items()
    }


@pytest.mark.parametrize("seat", SEATS)
@pytest.mark.parametrize("marks", BOARD.values())
def test_marks_found_where_they_are_with_noise_bring_nothing(marks: str, seat: str) -> None:
    names, chance = marks.split(), random.Random(marks)
    for _ in range(5):
        seen = about(nominal(names, seat), lambda x, y: turned((x, y), 0.4))
        seen = {
            name: (x + 1.2 + chance.gauss(0, 0.02), y - 0.8 + chance.gauss(0, 0.02))
            for name, (x, y) in seen.items()
        }
        assert rules(f"{described(names)}\n{seat}\n{measured(seen)}") == []


@pytest.mark.parametrize("seat", SEATS)
@pytest.mark.parametrize(
    ("marks", "change", "rule"),
    [
        ("m1 m2 m3", lambda x, y: (-x, y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3 m4", lambda x, y: turned((x, -y), 30), "measured-fiducials-do-not-fit"),
        ("m1 m2", lambda x, y: (x / 25.4, y / 25.4), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3 m4", lambda x, y: (x / 25.4, y / 25.4), "measured-fiducials-do-not-fit"),
        ("m1 m2", lambda x, y: (1.004 * x, 1.004 * y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3", lambda x, y: (1.004 * x, 1.004 * y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3", lambda x, y: (1.006 * x, y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3 m4 m5", lambda x, y: (x, 0.994 * y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3", lambda x, y: (x + 0.007 * y, y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3 m4 m5", lambda x, y: (x, y - 0.006 * x), "measured-fiducials-do-not-fit"),
        ("m1 m2", lambda x, y: (1.03 * x, 1.03 * y), "measured-fiducials-do-not-fit"),
        ("m1 m2 m3", lambda x, y: (x + 8, y), "measured-fiducials-do-not-fit"),
        ("m1 m2", lambda x, y: (-x, -y), "measured-fiducials-do-not-fit"),
    ],
)
def test_each_cause_is_named_by_its_own_rule(marks, change, rule, seat) -> None:
    names = marks.split()
    seen = about(nominal(names, seat), change)
    assert rules(f"{described(names)}\n{seat}\n{measured(seen)}") == [rule]


@pytest.mark.parametrize("marks", ["m1 m2 m3", "m1 m2 m3 m4", "m1 m2 m3 m4 m5"])
@pytest.mark.parametrize("off", [1.3, 2.0, 4.0])
def test_a_wrong_mark_is_named(marks: str, off: float) -> None:
    names, chance = marks.split(), random.Random(f"{marks}{off}")
    for wrong in names:
        seen = nominal(names, SEATS[0])
        bearing = math.radians(chance.uniform(0, 360))
        x, y = seen[wrong]
        # Away along the board's edges, where the distance to the others tells it.
        seen[wrong] = (x + off * math.cos(bearing), y + off * math.sin(bearing))
        found = linted(edited(f"{described(names)}\n{measured(seen)}")).findings
        named = [finding for finding in found if finding.path[-1] == wrong]
        if len(names) > 3:
            assert [finding.rule for finding in named] == ["measured-fiducials-do-not-fit"]
        assert {finding.rule for finding in found} <= {
            "measured-fiducials-do-not-fit",
        }
        assert found


def test_a_half_turned_board_is_an_error() -> None:
    names = ["m1", "m2", "m3"]
    seen = about(nominal(names, SEATS[0]), lambda x, y: (-x, -y))
    (finding,) = linted(edited(f"{described(names)}\n{measured(seen)}")).findings
    assert (finding.rule, finding.level) == ("measured-fiducials-do-not-fit", "error")
    assert "turned by 180 degrees" in finding.message


def test_one_measured_mark_fixes_nothing() -> None:
    assert rules(f"{JOB}.seat.measured.m1: {{x: 90, y: 20}}") == []


def test_marks_of_a_cell_and_unknown_ones() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 30], size_mm: [83, 30]}}"
    good = measured({"1-1-m1": (154, 114), "2-1-m2": (150 + 43 + 36, 132)})
    assert rules(f"{panel}\n{good}") == []
    bad = measured({"1-1-m1": (154, 114), "3-1-m2": (229, 132)})
    assert rules(f"{panel}\n{bad}") == ["measured-fiducials-do-not-fit"]
