"""Rules about polarity."""

from jobcheck.rules.base import Rule
from jobcheck.rules.polarity import corrections, declared, drawing_leg, feeder_leg, listing_leg

RULES: tuple[Rule, ...] = (
    declared.polarised_flag_contradicted,
    declared.rotation_convention_missing,
    feeder_leg.pick_rotation_wrong,
    feeder_leg.tape_pin1_impossible,
    feeder_leg.carrier_pin1_unproven,
    listing_leg.list_turned_from_pads,
    drawing_leg.outline_drawing_contradicts_pads,
    listing_leg.placement_turned_from_pads,
    corrections.polarity_errors_cancel,
)
