"""Thresholds that rules use; `limits` in shop.yaml overrides each of them."""

from typing import Literal, NamedTuple

from jobcheck.schema.fields import Described, setting


class Loosened(NamedTuple):
    """A limit that lets more pass than its default: its name, and both values."""

    limit: str
    value: float
    default: float


class Limits(Described):
    """Thresholds with their defaults and where those come from."""

    attrition_percent: float = setting(
        "Parts lost in placing, percent (common practice, no published source).",
        2,
        unit="percent",
        ge=0,
        le=1000,
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
        "How many controls may be at the device's default before it looks like a reset "
        "(common practice, no published source).",
        3,
        ge=1,
    )
    pick_to_slot_mm: float = setting(
        "Largest distance of a pick from its slot, mm; beyond it another slot is meant (common "
        "practice, no published source).",
        6,
        unit="mm",
        gt=0,
    )
    pick_across_row_mm: float = setting(
        "Largest deviation of a pick across its row, mm: feeders of a row differ in length (common "
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
        "How far an attitude may be from its quarter turn, degrees: a part is turned in its "
        "pocket by up to 20 (EIA-481-D Table 2 note 1) and the picture corrects less than 45.",
        20,
        unit="deg",
        gt=0,
        lt=45,
    )
    outside_board_mm: float = setting(
        "Largest distance of a placement's centre outside the board, mm: connectors overhang "
        "(common practice, no published source).",
        0,
        unit="mm",
        ge=0,
    )
    body_clearance_mm: float = setting(
        "Least clearance between bodies, and to holes and the rings of fiducials, mm: twice the "
        "courtyard of the densest boards, 0.1 a part (IPC-7351 level C, from memory).",
        0.2,
        unit="mm",
        ge=0,
        le=10,
    )
    edge_clearance_mm: float = setting(
        "Least clearance of a body to the board's edge, mm (common practice, no published source).",
        0.3,
        unit="mm",
        ge=0,
    )
    fiducial_search_mm: float = setting(
        "How far around its place a fiducial is searched where neither it nor the home mark says, "
        "mm (common practice, no published source).",
        2,
        unit="mm",
        gt=0,
    )
    fiducial_spread_percent: float = setting(
        "Smallest distance of fiducials, percent of the diagonal (common practice, no published "
        "source).",
        40,
        unit="percent",
        ge=0,
        le=100,
    )
    look_alike_percent: float = setting(
        "How far a hole's diameter may differ from a fiducial's to be taken for it, percent "
        "(common practice, no published source).",
        30,
        unit="percent",
        ge=0,
    )
    fiducial_noise_mm: float = setting(
        "Standard deviation of one measured fiducial along one axis, mm (common practice, no "
        "published source).",
        0.01,
        unit="mm",
        gt=0,
    )
    mark_error_mm: float = setting(
        "Largest distance of a measured fiducial from its expected position, mm (common practice, "
        "no published source).",
        0.1,
        unit="mm",
        gt=0,
    )
    seat_error_mm: float = setting(
        "How far fiducials may be found from where the seat has them, mm (common practice, no "
        "published source).",
        5,
        unit="mm",
        gt=0,
    )
    seat_height_mm: float = setting(
        "How far a seat's height may differ from its support and the board's thickness, mm: "
        "laminates are made to 10 percent (common practice, no published source).",
        0.3,
        unit="mm",
        ge=0,
    )
    nozzle_clearance_mm: float = setting(
        "Least clearance between a nozzle that goes down and things beside it, mm (common "
        "practice, no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
    height_slack_percent: float = setting(
        "Largest deviation of a height from the usual range of its case, percent: makers differ "
        "(common practice, no published source).",
        10,
        unit="percent",
        ge=0,
    )
    chip_body_slack_mm: float = setting(
        "Largest deviation of a chip's body beyond its datasheet's tolerance, mm: makers differ "
        "(common practice, no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
    least_pixels: float = setting(
        "How many pixels the smallest feature must cover, px: two to three (machine-vision "
        "handbooks).",
        3,
        unit="px",
        gt=0,
    )
    field_margin_mm: float = setting(
        "Room between a part and the edge of the picture, mm: a part is picked off its centre "
        "(common practice, no published source).",
        1,
        unit="mm",
        ge=0,
    )
    pocket_turn_deg: float = setting(
        "Largest rotation of a part in its pocket, degrees: 20 at most (EIA-481-D Table 2 note 1).",
        20,
        unit="deg",
        ge=0,
        le=45,
    )
    ipc_class: Literal[1, 2, 3] = setting(
        "Class of what is built: it says how far a part may overhang its land (IPC-A-610F "
        "8.3.2.1).",
        2,
    )
    scale_height_mm: float = setting(
        "How far a camera's scale may be measured from the height at which it is used, mm "
        "(common practice, no published source).",
        1,
        unit="mm",
        gt=0,
    )
    blur_px: float = setting(
        "How far a moving picture may smear, px: one (machine-vision handbooks, from memory).",
        1,
        unit="px",
        gt=0,
    )
    bore_cover_mm: float = setting(
        "How far a body must cover a bore all round, mm: a part is picked off its centre (common "
        "practice, no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
    holding_safety: float = setting(
        "How many times the force that a move needs a nozzle must hold: 2 for parts that are "
        "rough or porous, 1.5 for smooth dense ones (Schmalz vacuum glossary).",
        2,
        ge=1,
    )
    holding_friction: float = setting(
        "Friction of a part under a nozzle: 0.5 dry, 0.2 to 0.3 wet (Schmalz vacuum glossary).",
        0.5,
        gt=0,
    )
    thresholds_apart_kpa: float = setting(
        "How much deeper than an empty tip a held part must read, kPa: a gauge wavers (common "
        "practice, no published source).",
        5,
        unit="kPa",
        gt=0,
    )
    pump_reserve_kpa: float = setting(
        "How much deeper than the threshold of a held part the pump must reach, kPa: no joint is "
        "tight (common practice, no published source).",
        3,
        unit="kPa",
        ge=0,
    )
    press_mm: float = setting(
        "How far a part may be pressed in, mm: paste is 0.1 to 0.15 mm thick, and a sprung tip "
        "gives a little (common practice, no published source).",
        0.3,
        unit="mm",
        gt=0,
    )
    nozzle_length_mm: float = setting(
        "How far the nozzle that a height was measured with may differ in length from the one "
        "that uses it, mm (common practice, no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
    spare_parts: int = setting(
        "Least parts to have beyond what is placed, for each part of a run (common practice, no "
        "published source).",
        5,
        ge=0,
    )
    pocket_slack_mm: float = setting(
        "How much larger than its pocket a part may seem, mm: both are measured (common practice, "
        "no published source).",
        0.1,
        unit="mm",
        ge=0,
    )
    pick_to_pocket_mm: float = setting(
        "Largest distance of a pick from the centre of its pocket beyond the tape's tolerance, mm "
        "(common practice, no published source).",
        0.3,
        unit="mm",
        gt=0,
    )
    pick_height_mm: float = setting(
        "Largest deviation of a pick height from the line of its row, mm: parts fill their pockets "
        "differently (common practice, no published source).",
        0.5,
        unit="mm",
        gt=0,
    )
    stick_mm: float = setting(
        "Length of the longest stick, mm (common practice, no published source).",
        600,
        unit="mm",
        gt=0,
    )
    panel_change_s: float = setting(
        "Time to take a panel out and put the next one in, s (common practice, no published "
        "source).",
        60,
        unit="s",
        ge=0,
    )
    stencil_life_h: float = setting(
        "Life of paste once printed or on the stencil, hours (makers' sheets, from memory).",
        8,
        unit="h",
        gt=0,
    )

    def loosened(self) -> tuple[Loosened, ...]:
        """Return the limits that let more pass than their default."""
        return tuple(
            Loosened(name, value, default)
            for name, field in type(self).model_fields.items()
            if is_looser(name, value := getattr(self, name), default := field.default)
        )


STRICTER_WHEN_LARGER = frozenset(
    {
        "attrition_percent",
        "traverse_clearance_mm",
        "body_clearance_mm",
        "edge_clearance_mm",
        "fiducial_search_mm",
        "fiducial_spread_percent",
        "look_alike_percent",
        "fiducial_noise_mm",
        "nozzle_clearance_mm",
        "least_pixels",
        "field_margin_mm",
        "pocket_turn_deg",
        "ipc_class",
        "bore_cover_mm",
        "holding_safety",
        "thresholds_apart_kpa",
        "pump_reserve_kpa",
        "spare_parts",
        "panel_change_s",
    }
)
"""Limits that are a least value or an assumed error: the larger, the more is found."""


def is_looser(limit: str, value: float, than: float) -> bool:
    """Tell whether a limit lets more pass with one value than with another."""
    return value != than and (value < than) == (limit in STRICTER_WHEN_LARGER)
