"""Rules about outlines, nozzles and holding."""

from jobcheck.rules.base import Rule
from jobcheck.rules.parts import heights, nozzles, outlines, tips, vacuum

RULES: tuple[Rule, ...] = (
    heights.height_unknown,
    heights.height_or_mass_implausible,
    heights.press_too_deep,
    outlines.outline_sizes_contradict,
    outlines.pin1_missing,
    nozzles.nozzle_missing,
    nozzles.nozzle_place_wrong,
    tips.nozzle_tip_unsuitable,
    vacuum.part_too_heavy_for_nozzle,
    vacuum.nozzle_pressures_contradict,
)
