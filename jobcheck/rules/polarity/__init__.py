"""Rules about polarity."""

from jobcheck.rules.base import Rule
from jobcheck.rules.polarity import corrections, feeder_leg, listing_leg

RULES: tuple[Rule, ...] = (
    feeder_leg.pick_rotation_half_turn,
    feeder_leg.pick_rotation_quarter_turn,
    feeder_leg.pick_rotation_off,
    feeder_leg.tape_pin1_impossible,
    feeder_leg.tape_pin1_unknown,
    feeder_leg.reel_orientation_unseen,
    listing_leg.list_zero_contradicts_pads,
    listing_leg.bottom_convention_contradicts_pads,
    listing_leg.outline_drawing_contradicts_pads,
    listing_leg.placement_turned_from_pads,
    corrections.polarity_errors_cancel,
    corrections.feeder_moved_across_rows,
    corrections.pick_rotation_outdated,
)
