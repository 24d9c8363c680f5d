"""Rules about outlines, nozzles and holding."""

from jobcheck.rules.base import Rule
from jobcheck.rules.parts import nozzles, outlines, tips, vacuum

RULES: tuple[Rule, ...] = (
    outlines.height_missing,
    outlines.height_zero,
    outlines.height_implausible,
    outlines.chip_code_contradicts_body,
    outlines.pin1_missing,
    nozzles.nozzle_missing,
    nozzles.tip_wider_than_body,
    nozzles.nozzle_claimed_twice,
    nozzles.rack_places_coincide,
    nozzles.nozzle_out_of_rack,
    nozzles.carried_nozzle_without_place,
    tips.bore_wider_than_tip,
    tips.tip_shows_beyond_body,
    tips.tip_eccentricity_exceeds_shift,
    vacuum.part_too_heavy_for_nozzle,
    vacuum.vacuum_thresholds_not_apart,
    vacuum.vacuum_threshold_out_of_reach,
    vacuum.pressure_below_vacuum,
)
