"""Numbers that no carrier has: an answer or silence, never a crash."""

import pytest

from tests.rules.test_trays import CUT_TAPE, TRAY
from tests.support.edited import edited, linted

TOLD = [
    *(f"feeders.f01.{field}: 1e308" for field in ("pick.x", "pick.z", "pick.rotation")),
    "feeders.f01.tape.pocket_pitch_mm: 1e308",
    "feeder_rows.front.step.x: 1e308",
    "feeders.f01.tape.hole: {x: 1e308, y: -1e308}",
    "jobs.first-board.run.panels: 1000000000000000",
    TRAY + "feeders.f01.tray.pitch_mm: [1e308, -1e308]",
    TRAY + "feeders.f01.tray.columns: 1000000000000000",
    TRAY + "feeders.f01.tray.next_pocket: 1000000000000000",
    CUT_TAPE.format(33, 0) + "feeders.f01.tape.pocket_pitch_mm: 1e308",
]
SILENT = [
    "feeders.f01.tape.width_mm: 1e308",
    *(f"motion.{field}: 1e-308" for field in ("xy_mm_s", "xy_mm_s2", "z_mm_s2")),
    CUT_TAPE.format(33, 0) + "feeders.f01.remaining: 1000000000000000",
    TRAY + "feeders.f01.extent: {x: [-1e308, 1e308], y: [0, 1]}",
]


@pytest.mark.parametrize("edits", TOLD)
def test_what_is_too_large_is_told(edits):
    assert linted(edited(edits)).open


@pytest.mark.parametrize("edits", SILENT)
def test_what_cannot_be_reckoned_with_is_left_out(edits):
    assert not {f.rule for f in linted(edited(edits)).open} & {
        "carrier-overlaps",
        "run-exceeds-life",
        "part-misfits-carrier",
    }
