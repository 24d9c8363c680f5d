"""Neighbours: who stands when a nozzle goes down, by the order of placing and by heights."""

import pytest

from jobcheck.findings import Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted

JOB = "jobs.first-board"
INLINE = "\n".join(
    [
        f"{JOB}.bill: ~",
        f"{JOB}.placements: {{zero: A, bottom: as-placed}}",
        *(
            f"{JOB}.placements.{reference}: {{part: {part}, x: {x}, y: {y}, rotation: {turn}%s}}"
            for reference, part, x, y, turn in (
                ("U1", "timer-soic8", 24, 20, 90),
                ("C1", "100n-0805", 12, 10, 0),
                ("R1", "10k-0603", 24, 20, 0),
                ("D1", "diode-sod123", 12, 24, 0),
            )
        ),
        "outlines.soic-8.open_below_mm: 0.5",
    ]
)
STRIKES = "nozzle-strikes-neighbour"


def placed(**orders: int) -> str:
    named = [f", order: {orders[r]}" if r in orders else "" for r in ("U1", "C1", "R1", "D1")]
    return INLINE % tuple(named)


def found(edits: str) -> list[tuple[str, str]]:
    return [(f.rule, show(f.path)) for f in linted(edited(edits)).findings]


def test_lowest_first_strikes_nothing() -> None:
    assert found(placed()) == []


def test_as_listed_goes_down_onto_what_was_listed_before() -> None:
    edits = f"{placed()}\n{JOB}.order: as-listed"
    assert found(edits) == [(STRIKES, f"{JOB}.order")]
    (finding,) = linted(edited(edits)).findings
    assert finding.message == "nozzle bore-0-4 strikes U1 when it places R1 of first-board."
    assert "R1 after U1, which is 1.3 mm higher" in finding.observed


@pytest.mark.parametrize(
    ("y", "level"), [(22.25, Level.ERROR), (22.36, Level.WARNING), (22.45, None)]
)
def test_a_tip_over_a_taller_part_is_an_error_and_one_near_it_a_warning(
    y: float, level: Level | None
) -> None:
    """U1 ends at y 21.95; the tip is 0.7 mm wide and needs 0.1 mm."""
    edits = f"{JOB}.order: as-listed\n{JOB}.placements.R9: {{part: 10k-0603, x: 24, y: {y}}}"
    found = [f.level for f in linted(edited(edits)).findings if f.rule == STRIKES]
    assert found == ([level] if level else [])


@pytest.mark.parametrize(("orders", "strikes"), [({"U1": -1}, True), ({"U1": 1}, False)])
def test_numbers_of_their_own_come_before_heights(orders, strikes) -> None:
    expected = [(STRIKES, f"{JOB}.placements.R1.order")] if strikes else []
    assert found(placed(**orders)) == expected
    assert found(placed(R1=-1, **orders)) == ([] if orders["U1"] > -1 else expected[:0])


def test_an_unknown_height_strikes_nothing() -> None:
    edits = f"{placed()}\n{JOB}.order: as-listed\noutlines.soic-8.height_mm: ~"
    assert STRIKES not in [rule for rule, _ in found(edits)]


def test_a_wide_tip_reaches_the_neighbour() -> None:
    """Bodies 0.3 mm apart: a tip of 1.8 mm on a body of 0.8 mm reaches 0.5 mm beyond it."""
    beside = placed().replace("x: 24, y: 20, rotation: 0", "x: 12, y: 11.325, rotation: 0")
    assert found(f"{beside}\n{JOB}.order: as-listed") == []
    wide = f"{beside}\n{JOB}.order: as-listed\nnozzles.bore-0-4.tip_outer_mm: 1.8"
    assert STRIKES in [rule for rule, _ in found(wide)]
    assert STRIKES not in [rule for rule, _ in found(wide.replace("as-listed", "lowest-first"))]


def test_the_spindle_strikes_what_is_taller_than_its_nozzle_is_long() -> None:
    tall = f"{placed(U1=-1)}\noutlines.soic-8.height_mm: 13.2\nspindles.a.diameter_mm: 8\n"
    tall += f"{JOB}.placements.R1.x: 29\n{JOB}.placements.R1.y: 19"
    (strike,) = [f for f in linted(edited(tall)).findings if f.rule == STRIKES]
    assert strike.message.startswith("the spindle above bore-0-4 strikes U1 when it places R1")
    assert STRIKES not in [rule for rule, _ in found(tall.replace("13.2", "12.4"))]


CLAMP = "obstacles.clamp: {x: [148, 152], y: [110, 140], top_z: %s}"
AT_EDGE = f"\n{JOB}.placements.R1: {{part: 10k-0603, x: %s, y: 10, rotation: 0}}"
ON_IT = "placement-strikes-obstacle"


@pytest.mark.parametrize(
    ("x", "top", "strikes"),
    [(2.6, -18, True), (2.9, -18, False), (2.6, -20, False), (2.81, -19.6, False)],
)
def test_a_clamp_over_the_edge_of_the_board(x: float, top: float, strikes: bool) -> None:
    expected = [(ON_IT, "obstacles.clamp")] if strikes else []
    assert found(CLAMP % top + AT_EDGE % x) == expected


def test_a_clamp_lies_where_the_seat_turns_the_board() -> None:
    """A board turned by half a turn has its right edge at the clamp."""
    turned = f"{JOB}.seat: {{x: 190, y: 140, z: -20, rotation: 180}}\n"
    assert found(turned + CLAMP % -18 + AT_EDGE % 2.6) == []
    assert found(turned + CLAMP % -18 + AT_EDGE % 37.4) == [(ON_IT, "obstacles.clamp")]


def test_a_clamp_over_the_cell_that_is_built() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 30], skip: [%s]}}\n"
    run = f"{JOB}.run.panels: 1\n"
    clamp = (CLAMP % -18).replace("[148, 152]", "[191, 195]")
    assert found(panel % "" + run + clamp + AT_EDGE % 2.6) == [(ON_IT, "obstacles.clamp")]
    (finding,) = linted(edited(panel % "" + run + clamp + AT_EDGE % 2.6)).findings
    assert "part R1 in 2-1" in finding.observed
    assert found(panel % '"2-1"' + run + clamp + AT_EDGE % 2.6) == []


def test_a_nozzle_beside_its_part_strikes_the_clamp() -> None:
    """The body, 0.8 mm wide, stands 0.15 mm beside the clamp; the tip of 1.2 mm reaches over."""
    edits = CLAMP % -18 + (AT_EDGE % 2.55).replace("rotation: 0", "rotation: 90")
    assert found(edits) == []
    wide = edits + "\nnozzles.bore-0-4.tip_outer_mm: 1.2"
    assert ON_IT in [rule for rule, _ in found(wide)]
