"""Thresholds that rules use; `limits` in shop.yaml overrides each of them."""

from jobcheck.description.fields import Described, setting


class Limits(Described):
    """Thresholds with their defaults and where those come from."""

    attrition_percent: float = setting(
        "Parts lost in placing, percent (common practice, no published source).",
        2,
        unit="percent",
        ge=0,
    )
    scale_difference_percent: float = setting(
        "How far the two scales of a camera may differ, percent: pixels of usual sensors are "
        "square (common practice, no published source).",
        2,
        unit="percent",
        gt=0,
    )
    field_difference_percent: float = setting(
        "How far scale times resolution may differ from the measured field, percent "
        "(common practice, no published source).",
        3,
        unit="percent",
        gt=0,
    )
    calibration_days: float = setting(
        "Age at which a calibration is called old, days (common practice, no published source).",
        180,
        unit="days",
        gt=0,
    )
    defaults_at_once: int = setting(
        "How many controls may stand at the device's default before it looks like a reset "
        "(common practice, no published source).",
        3,
        ge=1,
    )
    pick_to_slot_mm: float = setting(
        "How far a pick may lie from its slot, mm; beyond it another slot is meant (common "
        "practice, no published source).",
        6,
        unit="mm",
        gt=0,
    )
    pick_across_row_mm: float = setting(
        "How far a pick may lie across its row, mm: feeders of one row differ in length (common "
        "practice, no published source).",
        20,
        unit="mm",
        gt=0,
    )
    same_pick_z: int = setting(
        "How many feeders may share one pick height to the hundredth before it looks copied "
        "(common practice, no published source).",
        5,
        ge=2,
    )
    traverse_clearance_mm: float = setting(
        "Room kept under whatever travels, mm (common practice, no published source).",
        1,
        unit="mm",
        ge=0,
    )
    half_turn_tolerance_deg: float = setting(
        "How far an attitude may be from its quarter turn, degrees: a part lies turned in its "
        "pocket by up to 20 (EIA-481-D Table 2 note 1) and the picture corrects less than 45.",
        20,
        unit="deg",
        gt=0,
        lt=45,
    )
    outside_board_mm: float = setting(
        "How far a placement's centre may lie outside the board, mm: connectors overhang "
        "(common practice, no published source).",
        0,
        unit="mm",
        ge=0,
    )
    height_slack_percent: float = setting(
        "How far a height may lie outside what its case usually has, percent: makers differ "
        "(common practice, no published source).",
        10,
        unit="percent",
        ge=0,
    )
    chip_body_slack_mm: float = setting(
        "How far a chip's body may lie outside its datasheet's tolerance, mm: makers differ "
        "(common practice, no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
