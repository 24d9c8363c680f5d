"""Carrier tape against EIA-481-D Tables 2 and 3."""

import pytest

from jobcheck.trade.tape import (
    EDGE_TO_HOLE_MM,
    HOLE_DIAMETER_MM,
    HOLE_PITCH_MM,
    HOLE_TO_POCKET_ALONG_MM,
    TAPES,
    pocket_from_edge,
)


@pytest.mark.parametrize(
    ("width", "across", "tolerance", "pitches", "turn"),
    [
        (8, 3.5, 0.05, [2, 4], 20),
        (12, 5.5, 0.05, [2, 4, 8], 20),
        (16, 7.5, 0.1, [4, 8, 12], 10),
        (24, 11.5, 0.1, [4, 8, 12, 16, 20], 10),
        (32, 14.2, 0.1, [4, 8, 12, 16, 20, 24, 28, 32], None),
        (44, 20.2, 0.15, [4, 8, 12, 16, 20, 24, 28, 32, 36, 40, 44], None),
    ],
)
def test_tables_2_and_3(width, across, tolerance, pitches, turn):
    tape = TAPES[width]
    assert (tape.hole_to_pocket_mm, tape.across_tolerance_mm) == (across, tolerance)
    assert (list(tape.pitches_mm), tape.part_turn_deg) == (pitches, turn)


def test_constants():
    constants = HOLE_PITCH_MM, HOLE_DIAMETER_MM, EDGE_TO_HOLE_MM, HOLE_TO_POCKET_ALONG_MM
    assert constants == (4.0, 1.5, 1.75, 2.0)


@pytest.mark.parametrize("tape", TAPES.values(), ids=lambda tape: f"{tape.width_mm:g}")
def test_the_widest_pocket_stays_between_the_holes_and_the_far_edge(tape):
    """B1, F and E1 stand in different columns; a misread one would break the tape's edge."""
    half = tape.pocket_across_mm / 2
    assert tape.hole_to_pocket_mm - half > HOLE_DIAMETER_MM / 2
    assert pocket_from_edge(tape) + half < tape.width_mm
