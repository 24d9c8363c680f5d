"""Rules about motion: travel, heights, spindles, pace."""

from jobcheck.rules.base import Rule
from jobcheck.rules.motion import heights, moves, pace, reach, spindles

RULES: tuple[Rule, ...] = (
    spindles.spindles_too_near,
    spindles.nozzle_changes_many,
    pace.run_exceeds_stencil_life,
    pace.run_exceeds_floor_life,
    pace.bag_opening_unknown,
    reach.panel_outside_travel,
    reach.placement_out_of_reach,
    reach.fiducial_out_of_reach,
    heights.traverse_too_low,
    heights.obstacle_in_traverse,
    heights.height_outside_travel,
    heights.place_outside_travel,
    heights.obstacle_outside_travel,
    moves.carried_part_strikes_fixture,
    moves.turn_beyond_spindle,
    moves.reject_bin_over_board,
    moves.approach_states_axis_twice,
    moves.approach_shorter_than_reversal,
    moves.height_measured_with_other_nozzle,
)
