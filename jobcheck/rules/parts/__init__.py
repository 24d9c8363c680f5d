"""Rules about outlines, nozzles and holding."""

from jobcheck.rules.base import Rule
from jobcheck.rules.parts import heights, nozzles, outlines, tips, vacuum

RULES: tuple[Rule, ...] = (
    heights.height_unknown,
    heights.height_implausible,
    heights.mass_implausible,
    heights.press_too_deep,
    outlines.outline_sizes_contradict,
    outlines.chip_code_contradicts_body,
    outlines.pin1_missing,
    nozzles.nozzle_missing,
    nozzles.nozzle_claimed_twice,
    nozzles.nozzle_out_of_rack,
    nozzles.carried_nozzle_without_place,
    tips.bore_wider_than_tip,
    tips.tip_too_wide,
    tips.tip_eccentricity_exceeds_shift,
    vacuum.part_too_heavy_for_nozzle,
    vacuum.nozzle_pressures_contradict,
)
