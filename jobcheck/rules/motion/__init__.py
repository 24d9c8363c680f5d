"""Rules about motion: travel, heights, fixtures, spindles, pace."""

from jobcheck.rules.base import Rule
from jobcheck.rules.motion import (
    capability,
    fixtures,
    heights,
    moves,
    pace,
    reach,
    spindles,
    traverse,
)

RULES: tuple[Rule, ...] = (
    spindles.spindles_too_near,
    pace.run_exceeds_life,
    pace.run_thickness_implausible,
    reach.job_out_of_reach,
    traverse.traverse_too_low,
    heights.outside_travel,
    fixtures.fixtures_overlap,
    moves.turn_beyond_spindle,
    moves.approach_ineffective,
    moves.height_measured_with_other_nozzle,
    moves.sign_changed,
    capability.capability_low,
)
