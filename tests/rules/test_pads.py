"""The list leg: each planted cause is found once, by the rule that names it."""

import math
from collections.abc import Mapping

import pytest

from jobcheck.findings import Finding
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

JOB = "jobs.first-board"
LIST = f"{JOB}.placements"
RULES = (
    *("list-turned-from-pads", "outline-drawing-contradicts-pads", "placement-turned-from-pads"),
    *("polarity-errors-cancel", "pick-rotation-wrong"),
)
DRAWN = {"diode-sod123": 180.0, "timer-soic8": 135.0}
"""Where pin 1 lies at 0: what the board was drawn from."""


def placed(
    reference: str, part: str, at: int, rotation: float, *, side: str = "top", listed: float
) -> str:
    """A placement that truly lies at `rotation`, seen from its side, and is listed otherwise."""
    x, y = 4 + 6 * (at % 6), 4 + 5 * (at // 6)
    angle = math.radians(DRAWN[part] + rotation)
    right, up = 1.6 * math.cos(angle), 1.6 * math.sin(angle)
    pad_x = x + (right if side == "top" else -right)
    return (
        f"{LIST}.{reference}: {{part: {part}, x: {x}, y: {y}, rotation: {listed}, side: {side}, "
        f"pin1_x: {pad_x:.4f}, pin1_y: {y + up:.4f}}}\n"
    )


TRUE = [("diode-sod123", r) for r in (0, 90, 180, 270, 0, 90)] + [("timer-soic8", 0)] * 3


BOTTOM_LIST = f"{LIST}: {{zero: A, bottom: as-placed, bottom_positions: through-top}}\n"


def board(
    listed: Mapping[int, float] | None = None, turn: float = 0, side: str = "top", through: str = ""
) -> str:
    """Nine parts with pads; `listed` puts another rotation for some, `turn` adds one to all."""
    said = {"": lambda r: r, "y": lambda r: 180 - r, "x": lambda r: -r}[through]
    rows = [
        placed(
            f"P{at}", part, at, r, side=side, listed=(listed or {}).get(at, (said(r) + turn) % 360)
        )
        for at, (part, r) in enumerate(TRUE)
    ]
    return f"{JOB}.bill: ~\n{JOB}.side: {side}\n{BOTTOM_LIST}" + "".join(rows)


def found(edits: str, *, recorded: str | None = None) -> list[Finding]:
    good = edited(recorded).shop if recorded is not None else None
    findings = linted(edited(edits), good).findings
    return [finding for finding in findings if finding.rule in RULES]


def named(edits: str, *, recorded: str | None = None) -> list[tuple[str, str]]:
    return [(f.rule, show(f.path)) for f in found(edits, recorded=recorded)]


@pytest.mark.parametrize(("side", "through"), [("top", ""), ("bottom", "")])
def test_a_list_that_agrees_with_its_pads_brings_nothing(side: str, through: str) -> None:
    assert named(board(side=side, through=through)) == []


@pytest.mark.parametrize(
    ("through", "declared"), [("y", "through-top-mirrored-y"), ("x", "through-top-mirrored-x")]
)
def test_a_list_exported_through_the_top_is_one_finding(through: str, declared: str) -> None:
    bottom = board(side="bottom", through=through)
    (finding,) = found(bottom)
    assert (finding.rule, show(finding.path)) == (
        "list-turned-from-pads",
        f"{LIST}.bottom",
    )
    assert declared in finding.message
    assert named(bottom + f"{LIST}.bottom: {declared}") == []


def test_a_level_mixed_up_is_one_finding() -> None:
    (finding,) = found(board() + f"{LIST}.zero: B")
    assert (finding.rule, show(finding.path)) == ("list-turned-from-pads", f"{LIST}.zero")
    assert "Level A would fit" in in_words(finding.remedy)
    (finding,) = found(board(turn=90))
    assert finding.rule == "list-turned-from-pads"
    assert "Level" not in in_words(finding.remedy), "A already, and B would turn it further"
    (finding,) = found(board(turn=270))
    assert "Level B would fit" in in_words(finding.remedy)


def test_a_list_turned_as_a_whole_by_half_is_one_finding() -> None:
    (finding,) = found(board(turn=180))
    assert finding.rule == "list-turned-from-pads"
    assert finding.message == "the list of first-board is half a turn off its pads throughout."


@pytest.mark.parametrize(
    ("edits", "path"),
    [
        ("outlines.sod-123.zero: B", "outlines.sod-123.zero"),
        ("outlines.soic-8.zero: B", "outlines.soic-8.zero"),
    ],
)
def test_an_outline_at_another_level_is_the_outlines_own_fault(edits: str, path: str) -> None:
    assert named(board() + edits) == [("outline-drawing-contradicts-pads", path)]


def test_an_outline_drawn_otherwise_without_reels_to_tell_is_found_at_its_drawing() -> None:
    edits = board() + "feeders.f03.tape.pin1: ~\noutlines.sod-123.pin1_at_zero: right"
    (finding,) = found(edits)
    assert (finding.rule, show(finding.path)) == (
        "outline-drawing-contradicts-pads",
        "outlines.sod-123.pin1_at_zero",
    )
    assert "6 placements" in finding.observed
    assert "P0, P1, P2, P3, P4, P5" in finding.consequence


def test_one_of_many_alike_turned_alone_is_its_own_finding() -> None:
    (finding,) = found(board({3: 90}))
    assert (finding.rule, show(finding.path)) == (
        "placement-turned-from-pads",
        f"{LIST}.P3.rotation",
    )
    assert finding.message.startswith(
        "P3 alone of 6 with outline sod-123 is turned half a turn off"
    )
    assert (
        in_words(finding.remedy) == "Look at the board's drawing. 270 would fit: correct rotation."
    )


def test_two_turned_alike_are_told_together_and_others_apart() -> None:
    findings = found(board({1: 270, 3: 90, 7: 90}))
    assert [(show(f.path), f.message[:8]) for f in findings] == [
        (f"{LIST}.P1.rotation", "P1, P3 o"),
        (f"{LIST}.P7.rotation", "P7 alone"),
    ]


def test_a_quarter_and_a_half_are_apart() -> None:
    findings = found(board({1: 270, 3: 0}))
    assert [finding.message.split(" turned ")[1] for finding in findings] == [
        "half a turn off its pad 1.",
        "a quarter turn off its pad 1.",
    ]


def test_the_rotation_that_fits_is_told_for_a_list_through_the_top_too() -> None:
    listed = board({3: 0}, side="bottom", through="y")
    (finding,) = found(listed + f"{LIST}.bottom: through-top-mirrored-y")
    assert "270 would fit" in in_words(finding.remedy)


def test_a_cause_of_all_and_one_turned_alone_are_two_findings() -> None:
    assert named(board({3: 0}, turn=270)) == [
        ("list-turned-from-pads", f"{LIST}.zero"),
        ("placement-turned-from-pads", f"{LIST}.P3.rotation"),
    ]


def test_a_pad_between_corner_and_mid_side_is_no_turn() -> None:
    edits = board() + "outlines.sod-123.pin1_at_zero: upper_left\nfeeders.f03.tape.pin1: ~"
    (finding,) = found(edits)
    assert finding.message == "outline sod-123 has pin 1 where its footprint has none."


def test_a_pad_nearly_above_the_centre_of_a_long_body_still_has_its_corner() -> None:
    at = f"{LIST}.P6.pin1_x: 3.6\n{LIST}.P6.pin1_y: 14\n"
    assert named(board() + at) == []


def test_unpolarised_parts_are_compared_modulo_their_symmetry() -> None:
    chip = "outlines.chip-0805.pin1_at_zero: left\n"
    at = f"{LIST}.C1.pin1_x: X\n{LIST}.C1.pin1_y: Y\n"
    assert named(chip + at.replace("X", "22").replace("Y", "10")) == []
    assert named(chip + at.replace("X", "22").replace("Y", "8")) == []
    assert named(chip + at.replace("X", "21").replace("Y", "9")) == [
        ("placement-turned-from-pads", f"{LIST}.C1.rotation")
    ]


def test_pads_without_a_drawn_pin1_or_without_a_convention_say_nothing() -> None:
    assert named(board({3: 90}) + "outlines.sod-123.pin1_at_zero: ~") == []
    assert named(board(side="bottom", through="y") + f"{LIST}.bottom: ~") == []


def test_footprints_tell_without_pads() -> None:
    edits = "outlines.sod-123.pad1_at_zero: top\n"
    assert named(edits) == [("outline-drawing-contradicts-pads", "outlines.sod-123.zero")]
    both = edits + "outlines.soic-8.pad1_at_zero: upper_right"
    assert named(both) == [("list-turned-from-pads", f"{LIST}.zero")]
    level = "outlines.sod-123.pad1_at_zero: bottom\noutlines.soic-8.pad1_at_zero: lower_left"
    (finding,) = found(level)
    assert "Level B would fit" in in_words(finding.remedy)


# turns that cancel


def test_a_drawing_that_both_reels_and_pads_contradict_is_one_warning() -> None:
    assert named(board() + "outlines.sod-123.pin1_at_zero: right") == [
        ("polarity-errors-cancel", "outlines.sod-123.pin1_at_zero")
    ]


def test_a_pick_that_makes_up_for_the_list_is_one_warning() -> None:
    second = (
        "parts.other-diode: {outline: sod-123}\n"
        "feeders.f04: {row: front, slot: 4, part: other-diode, carrier: tape, remaining: 5}\n"
        "feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: holes}\n"
        "feeders.f04.pick: {x: 68, y: 8.1, z: -18.1, rotation: 0}\n"
    )
    one_part = {at: (r + 180) % 360 for at, (part, r) in enumerate(TRUE) if at in (1, 2)}
    edits = board(one_part) + second + "feeders.f03.pick.rotation: 180\n"
    others = "".join(f"{LIST}.P{at}.part: other-diode\n" for at in (0, 3, 4, 5))
    assert named(edits + others) == [("polarity-errors-cancel", "feeders.f03.pick.rotation")]


def test_legs_that_are_off_by_different_turns_do_not_cancel() -> None:
    edits = board() + "feeders.f03.pick.rotation: 90"
    assert named(edits) == [("pick-rotation-wrong", "feeders.f03.pick.rotation")]


# what fitted once

BACK = (
    "feeder_rows.back: {slots: 8, first: {x: 20, y: 250, z: -18}, step: {x: 16, y: 0}, "
    "feed_direction: 270}\n"
)
MOVED = "feeders.FEEDER.row: back\nfeeders.FEEDER.pick: {x: AT, y: 250, z: -18.2, rotation: TURN}\n"


def moved(feeder: str, at: int, turn: int) -> str:
    return MOVED.replace("FEEDER", feeder).replace("AT", str(at)).replace("TURN", str(turn))


def test_feeders_moved_to_a_row_that_feeds_the_other_way_are_one_finding() -> None:
    edits = BACK + moved("f03", 52, 0) + moved("f05", 84, 90)
    (finding,) = found(edits, recorded="")
    assert (finding.rule, show(finding.path)) == ("pick-rotation-wrong", "feeders.f03.row")
    assert finding.observed == "f03 states 0, not 180; f05 states 90, not -90"
    assert finding.consequence == "diode-sod123, timer-soic8 would be placed half a turn off."


def test_a_feeder_moved_with_its_pick_turned_is_right() -> None:
    assert named(BACK + moved("f03", 52, 180), recorded="") == []


def test_without_a_record_a_moved_feeder_is_a_half_turn() -> None:
    assert named(BACK + moved("f03", 52, 0)) == [
        ("pick-rotation-wrong", "feeders.f03.pick.rotation")
    ]


@pytest.mark.parametrize(
    "edits",
    [
        "feeders.f03.tape.pin1: plain_edge",
        "outlines.sod-123.pin1_at_zero: right",
        "feeder_rows.front.feed_direction: 270",
    ],
)
def test_a_correction_that_no_longer_fits_names_what_changed(edits: str) -> None:
    path = edits.split(":")[0]
    assert named(edits, recorded="") == [("pick-rotation-wrong", path)]


def test_a_pick_that_was_changed_itself_is_no_outdated_one() -> None:
    assert named("feeders.f03.pick.rotation: 180", recorded="") == [
        ("pick-rotation-wrong", "feeders.f03.pick.rotation")
    ]


def test_a_pick_that_was_off_in_the_record_is_not_outdated() -> None:
    off = "feeders.f03.pick.rotation: 90\n"
    assert named(off + "feeders.f03.tape.pin1: plain_edge", recorded=off) == [
        ("pick-rotation-wrong", "feeders.f03.pick.rotation")
    ]


# reels


@pytest.mark.parametrize(
    ("edits", "names"),
    [
        ("feeders.f03.reel.loaded: 2026-11-02", ""),
        ("feeders.f03.reel.loaded: 2026-11-03", "f03 loaded 2026-11-03, looked at 2026-11-02"),
        ("feeders.f03.reel: {loaded: 2026-11-03}", "f03 loaded 2026-11-03, looked at never"),
        ("feeders.f03.reel: {lot: x}", ""),
        ("feeders.f01.reel: {loaded: 2026-11-03}", ""),
    ],
)
def test_a_reel_nobody_looked_at_since_it_was_loaded(edits: str, names: str) -> None:
    findings = linted(edited(edits)).findings
    seen = [f.observed for f in findings if f.rule == "carrier-pin1-unproven"]
    assert seen == ([names] if names else [])


def test_the_starter_is_silent() -> None:
    assert linted(starter()).findings == ()
