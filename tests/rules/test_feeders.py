"""Slots, picks, carriers and stock: grouping, and silence where something is unknown."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.rules.base import Rule
from jobcheck.rules.feeders import carriers, picks, slots, trays
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

TAPE = "{width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4}"


def found(edits: str, *rules: Rule) -> list[Finding]:
    names = {rule.name for rule in rules}
    return [finding for finding in linted(edited(edits)).findings if finding.rule in names]


def paths(edits: str, *rules: Rule) -> list[str]:
    return [show(finding.path) for finding in found(edits, *rules)]


def feeder(name: str, slot: int, **more: object) -> str:
    rest = "".join(f", {key}: {value}" for key, value in more.items())
    x = 20 + 16 * (slot - 1)
    return (
        f"feeders.{name}: {{row: front, slot: {slot}, part: 10k-0603, carrier: tape, "
        f"tape: {TAPE}, pick: {{x: {x}, y: 8, z: -18.1{slot}, rotation: 0}}, remaining: 9{rest}}}\n"
    )


# slots


def test_two_in_one_slot_are_the_same_finding_whatever_the_order_of_keys() -> None:
    first = found(feeder("f06", 6) + feeder("f07", 6), slots.feeder_slot_wrong)
    second = found(feeder("f07", 6) + feeder("f06", 6), slots.feeder_slot_wrong)
    assert [show(f.path) for f in first] == ["feeders.f07.slot"]
    assert [(f.path, f.message, f.observed) for f in first] == [
        (f.path, f.message, f.observed) for f in second
    ]


def test_a_stray_pick_tells_which_of_two_was_moved() -> None:
    (finding,) = linted(edited("feeders.f01.slot: 2")).findings
    assert show(finding.path) == "feeders.f01.slot"
    assert finding.observed == "f01 in slot 2, but its pick point is at slot 1"


def test_a_wide_feeder_may_extend_to_either_free_side() -> None:
    wide = feeder("f07", 7, body_width_mm=20) + feeder("f08", 8)
    assert paths(wide, slots.feeder_slot_wrong) == []
    between = wide + feeder("f06", 6)
    assert paths(between, slots.feeder_slot_wrong) == ["feeders.f07.body_width_mm"]


def test_two_wide_feeders_cannot_share_one_free_slot() -> None:
    wide = feeder("f06", 6, body_width_mm=20) + feeder("f08", 8, body_width_mm=20)
    assert paths(wide, slots.feeder_slot_wrong) == []
    assert paths(wide + feeder("f09", 9), slots.feeder_slot_wrong) == ["feeders.f09.slot"]
    taken = "feeder_rows.front.slots: 12\n" + wide + feeder("f09", 9)
    assert paths(taken, slots.feeder_slot_wrong) == ["feeders.f08.body_width_mm"]


def test_three_slots_are_taken_by_the_widest_tapes() -> None:
    wide = feeder("f06", 6, body_width_mm=44)
    assert paths(wide, slots.feeder_slot_wrong) == []
    (finding,) = found(wide + feeder("f07", 7), slots.feeder_slot_wrong)
    assert finding.message == (
        "feeder f06 takes 3 slots and covers slot 7 of row front, which f07 is in."
    )


def test_an_unknown_width_covers_one_slot() -> None:
    assert paths("feeders.f02.tape: ~", slots.feeder_slot_wrong) == []


@pytest.mark.parametrize("slot", [0, -1, 9])
def test_a_slot_that_the_row_does_not_have_is_told_once(slot: int) -> None:
    (finding,) = linted(edited(f"feeders.f05.slot: {slot}")).findings
    assert (finding.rule, finding.message) == (
        "feeder-slot-wrong",
        f"feeder f05 is in slot {slot}, but row front has slots 1 to 8.",
    )


# picks


@pytest.mark.parametrize(("x", "off"), [(30, False), (42, False), (29.9, True), (42.1, True)])
def test_a_pick_is_at_its_slot_within_the_limit_along_the_row(x: float, off: bool) -> None:
    expected = ["feeders.f02.pick.x"] if off else []
    assert paths(f"feeders.f02.pick.x: {x}", picks.feeder_pick_off_slot) == expected


@pytest.mark.parametrize(("x", "level"), [(44, Level.WARNING), (52, Level.ERROR)])
def test_only_a_pick_at_another_slot_is_an_error(x: float, level: Level) -> None:
    (finding,) = found(f"feeders.f02.pick.x: {x}", picks.feeder_pick_off_slot)
    assert finding.level == level


@pytest.mark.parametrize(("y", "off"), [(28, False), (28.1, True)])
def test_across_the_row_a_pick_may_lie_further(y: float, off: bool) -> None:
    expected = ["feeders.f02.pick.y"] if off else []
    assert paths(f"feeders.f02.pick.y: {y}", picks.feeder_pick_off_slot) == expected


def test_a_wide_tape_may_have_its_pocket_further_from_the_holes() -> None:
    """24 mm tape: F is 11.5, 8 mm further than on 8 mm tape, away from the holes: +x here."""
    wide = "feeders.f05.tape.width_mm: 24\nfeeders.f05.pick.x: "
    assert paths(wide + "97", picks.feeder_pick_off_slot) == []
    assert paths(wide + "71", picks.feeder_pick_off_slot) == ["feeders.f05.pick.x"]
    assert paths("feeders.f05.pick.x: 97", picks.feeder_pick_off_slot) == ["feeders.f05.pick.x"]


def test_a_pick_beside_every_row_is_told_by_its_distance() -> None:
    (finding,) = found("feeders.f02.pick.y: 80", picks.feeder_pick_off_slot)
    assert finding.message == "feeder f02 is in slot 2 of row front, but its pick is 72 mm away."


def test_a_moved_row_is_one_finding() -> None:
    edits = "feeder_rows.front.first.x: 90"
    assert paths(edits, picks.feeder_pick_off_slot) == ["feeder_rows.front.first"]


def test_a_row_without_a_step_has_no_slots_to_compare_with() -> None:
    edits = "feeder_rows.front.step.x: 0\nfeeders.f02.pick.x: 200"
    assert paths(edits, picks.feeder_pick_off_slot) == []


def test_a_pick_that_one_spindle_reaches_is_within_the_travel() -> None:
    edits = "feeders.f01.pick.y: 3.9\n"
    assert paths(edits, trays.feeder_outside_travel) == ["feeders.f01.pick.y"]
    second = "spindles.b: {offset_from_camera: {x: 31.2, y: 3.9}}"
    assert paths(edits + second, trays.feeder_outside_travel) == ["feeders.f01.pick.y"]
    assert paths(edits + second.replace("x: 31.2", "x: -31.2"), trays.feeder_outside_travel) == []


def test_a_mistyped_pick_is_one_finding() -> None:
    assert paths(
        "feeders.f05.pick.x: 840", trays.feeder_outside_travel, picks.feeder_pick_off_slot
    ) == ["feeders.f05.pick.x"]


def test_a_short_travel_is_one_finding() -> None:
    edits = "travel.x: [0, 60]"
    assert paths(edits, trays.feeder_outside_travel) == ["travel.x"]


def test_heights_are_alike_to_the_hundredth() -> None:
    copies = "".join(f"feeders.{name}.pick.z: -18.2\n" for name in ("f01", "f02", "f03", "f05"))
    assert paths(copies, picks.pick_height_doubtful) == []
    fifth = copies + feeder("f06", 6).replace("-18.16", "-18.203")
    (finding,) = found(fifth, picks.pick_height_doubtful)
    assert finding.observed == "f01, f02, f03, f05, f06"
    assert finding.message.startswith("5 feeders have the same pick height -18.2")


# carriers


@pytest.mark.parametrize(
    ("width", "pitch", "rules"),
    [
        (8, 2, ["tape-sizes-contradict"]),
        (8, 1, ["tape-sizes-contradict"]),
        (4, 1, []),
        (12, 12, ["tape-sizes-contradict"]),
        (72, 40, []),
        (16, 12, []),
        (10, 3, ["tape-sizes-contradict"]),
        (0.8, 4, ["tape-sizes-contradict"]),
    ],
)
def test_widths_and_pitches_of_the_standard(width: float, pitch: float, rules: list[str]) -> None:
    edits = "feeders.f05.tape: {width_mm: %s, pocket_pitch_mm: %s, advance_mm: %s, pin1: q1}"
    reported = found(
        edits % (width, pitch, pitch),
        carriers.tape_sizes_contradict,
        carriers.tape_sizes_contradict,
    )
    assert [finding.rule for finding in reported] == rules


def test_an_advance_is_its_pockets_times_their_pitch() -> None:
    (finding,) = found("feeders.f01.tape.pockets_per_advance: 2", carriers.tape_sizes_contradict)
    assert finding.message == "feeder f01 advances 4 mm, but 2 pockets × 4 mm is 8."


def test_a_second_block_is_told_with_the_carrier_it_contradicts() -> None:
    (finding,) = found(
        "feeders.f01.tray: {columns: 2, rows: 2, pitch_mm: [3, 3]}", carriers.carrier_contradicted
    )
    assert show(finding.path) == "feeders.f01.tray"
    assert finding.message == (
        "feeder f01 names tape as its carrier, but describes a tape and a tray."
    )


def test_feeders_without_a_block_are_one_finding() -> None:
    (finding,) = found("feeders.f01.tape: ~\nfeeders.f02.tape: ~", slots.feeder_incomplete)
    assert finding.message == "2 feeders do not describe their carrier."


# what feeders hold


def test_parts_without_a_feeder_are_one_finding_a_job_with_near_names() -> None:
    edits = (
        "feeders.f01.part: ~\nfeeders.f02.part: ~\nparts.10k-0603-b: {outline: chip-0603}\n"
        + feeder("f06", 6).replace("part: 10k-0603", "part: 10k-0603-b")
    )
    (finding,) = found(edits, slots.part_without_feeder)
    assert finding.message == "no feeder holds 2 of the parts that first-board places."
    assert finding.observed == (
        "10k-0603 (3 placements; f06 holds 10k-0603-b), 100n-0805 (2 placements), "
        "f01 has no part, f02 has no part"
    )
    assert show(finding.path) == "jobs.first-board.placements.R1.part"
    assert [show(path) for _, path in finding.related] == [
        "jobs.first-board.placements.C1.part",
        "feeders.f01.part",
        "feeders.f02.part",
    ]


@pytest.mark.parametrize(
    ("edits", "offered"),
    [
        ("feeders.f01: ~", "feeders.f01"),
        ("feeders.f01.part: ~", "feeders.f01.part"),
        ("feeders.f01: ~\nfeeders.f02: ~", "feeders.f01 feeders.f02"),
    ],
)
def test_feeders_that_held_the_parts_are_offered_back(edits: str, offered: str) -> None:
    findings = linted(edited(edits), starter().shop).open
    (finding,) = [f for f in findings if f.rule == "part-without-feeder"]
    assert "; f01 held it)" in finding.observed
    assert in_words(finding.remedy).startswith(
        f"As last recorded: jobcheck restore {offered} Set up"
    )


def test_what_is_not_fitted_needs_no_feeder() -> None:
    edits = "feeders.f05.part: ~\njobs.first-board.placements.U1.fitted: no"
    assert paths(edits, slots.part_without_feeder) == []


def test_a_misspelled_part_in_a_feeder_is_told_as_such_alone() -> None:
    findings = linted(edited("feeders.f01.part: 10k-0630")).open
    assert [finding.rule for finding in findings] == ["name-unknown"]
