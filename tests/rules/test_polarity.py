"""The feeder leg: what is grouped, what stays silent, and what is modulo symmetry."""

import pytest

from jobcheck.facts.feeder_leg import feeder_leg
from jobcheck.findings import Finding, command
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

SECOND_DIODE = """
feeders.f04: {row: front, slot: 4, part: diode-sod123, carrier: tape, remaining: 5}
feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: holes}
feeders.f04.pick: {x: 68, y: 8.1, z: -18.1, rotation: 0}
"""
CHIP = "outlines.chip-0805.pin1_at_zero: left\nfeeders.f02.tape.pin1: holes\n"
"""The chip's tape then gives the attitude 0."""


def found(edits: str) -> list[Finding]:
    rules = ("pick-rotation", "tape-pin1", "carrier-pin1")
    return [f for f in linted(edited(edits)).findings if f.rule.startswith(rules)]


def named(edits: str) -> list[tuple[str, str]]:
    return [(finding.rule, show(finding.path)) for finding in found(edits)]


@pytest.mark.parametrize(
    ("stated", "rule"),
    [
        (20, None),
        (-20, None),
        (21, "pick-rotation-wrong"),
        (69, "pick-rotation-wrong"),
        (70, "pick-rotation-wrong"),
        (-110, "pick-rotation-wrong"),
        (111, "pick-rotation-wrong"),
        (160, "pick-rotation-wrong"),
        (-160, "pick-rotation-wrong"),
        (200, "pick-rotation-wrong"),
        (540, "pick-rotation-wrong"),
        (720, None),
    ],
)
def test_each_attitude_has_one_name(stated: float, rule: str | None) -> None:
    expected = [(rule, "feeders.f03.pick.rotation")] if rule else []
    assert named(f"feeders.f03.pick.rotation: {stated}") == expected


def test_a_half_turn_names_the_references_and_the_remedy() -> None:
    (finding,) = found("feeders.f03.pick.rotation: 180")
    assert finding.message == "feeder f03 presents diode-sod123 half a turn off."
    assert finding.consequence == "D1 and D2 would be placed with pin 1 on the pad of pin 2."
    assert in_words(finding.remedy) == (
        "Look at the tape. If pin 1 is toward the round holes, as described, set pick.rotation to "
        "0. If not, correct tape.pin1."
    )


def test_a_part_of_many_terminals_has_no_pad_of_pin_2_opposite() -> None:
    (finding,) = found("feeders.f05.pick.rotation: 270")
    assert finding.consequence == "U1 would be placed half a turn off."


def test_what_no_job_places_is_named_by_its_part() -> None:
    references = "".join(f"jobs.first-board.placements.{r}.fitted: no\n" for r in ("D1", "D2"))
    (finding,) = found(references + "feeders.f03.pick.rotation: 180")
    assert finding.consequence.startswith("Every diode-sod123 from f03 would")


def test_an_unpolarised_chip_may_lie_either_way_round() -> None:
    assert named(CHIP + "feeders.f02.pick.rotation: 180") == []
    assert named(CHIP + "feeders.f02.pick.rotation: 90") == [
        ("pick-rotation-wrong", "feeders.f02.pick.rotation")
    ]


def test_an_unpolarised_square_may_lie_any_way_round() -> None:
    square = "outlines.chip-0805.body_mm: [2.0, 1.8]\noutlines.chip-0805.terminals: 4\n"
    assert named(CHIP + square + "feeders.f02.pick.rotation: 90") == []


def test_a_chip_whose_tape_says_nothing_has_no_leg() -> None:
    assert named("feeders.f02.pick.rotation: 90") == []


@pytest.mark.parametrize(
    "unknown",
    [
        "outlines.sod-123.pin1_at_zero: ~",
        "feeders.f03.row: ~",
        "feeders.f03.tape: ~",
        "feeders.f03.part: ~",
        "parts.diode-sod123.outline: nowhere",
    ],
)
def test_what_is_unknown_is_no_contradiction(unknown: str) -> None:
    assert named(f"feeders.f03.pick.rotation: 180\n{unknown}") == []


def test_the_feeders_own_direction_holds_over_the_rows() -> None:
    assert named("feeders.f03.feed_direction: 270\nfeeders.f03.pick.rotation: 180") == []


def test_a_stick_and_a_tray_have_a_leg_too() -> None:
    stick = "feeders.f03.carrier: stick\nfeeders.f03.stick: {pitch_mm: 4, pin1: holes}\n"
    tray = (
        "feeders.f03.carrier: tray\n"
        "feeders.f03.tray: {columns: 2, rows: 2, pitch_mm: [4, 4], attitude: 0}\n"
    )
    turned = "feeders.f03.tape: ~\nfeeders.f03.pick.rotation: 180"
    expected = [("pick-rotation-wrong", "feeders.f03.pick.rotation")]
    assert named(stick + turned) == expected
    assert named(tray + turned) == expected


def test_one_turned_row_is_one_finding() -> None:
    (finding,) = found("feeder_rows.front.feed_direction: 270")
    assert show(finding.path) == "feeder_rows.front.feed_direction"
    assert [show(path) for _, path in finding.related] == [
        "feeders.f03.pick.rotation",
        "feeders.f05.pick.rotation",
    ]


def test_one_wrongly_drawn_outline_is_one_finding() -> None:
    drawn = SECOND_DIODE + "outlines.sod-123.pin1_at_zero: "
    assert named(drawn + "right") == [
        ("pick-rotation-wrong", "outlines.sod-123.pin1_at_zero"),
    ]
    assert named(drawn + "upper_left") == [
        ("tape-pin1-impossible", "outlines.sod-123.pin1_at_zero"),
    ]


def test_one_of_two_alike_is_the_feeders_own_fault() -> None:
    assert named(SECOND_DIODE + "feeders.f04.pick.rotation: 180") == [
        ("pick-rotation-wrong", "feeders.f04.pick.rotation")
    ]
    assert named(SECOND_DIODE + "feeders.f04.tape.pin1: q1") == [
        ("tape-pin1-impossible", "feeders.f04.tape.pin1")
    ]


def test_feeders_that_do_not_say_pin1_are_one_finding() -> None:
    (finding,) = found("feeders.f03.tape.pin1: ~\nfeeders.f05.tape.pin1: ~")
    assert finding.message == "the direction of pin 1 is unknown in 2 feeders of polarised parts."
    assert finding.observed == "f03 (diode-sod123), f05 (timer-soic8)"
    assert [show(path) for _, path in finding.related] == ["feeders.f05.tape.pin1"]


def test_the_leg_of_the_design_page() -> None:
    """The diode and the quad flat of the check table: A 0 and 180."""
    shop = edited(
        "outlines.soic-8.pin1_at_zero: upper_left\nfeeders.f05.tape.pin1: q2\n"
        "feeders.f05.feed_direction: 270\nfeeders.f05.pick.rotation: 180"
    ).shop
    assert shop is not None
    legs = [feeder_leg(shop, name) for name in ("f03", "f05")]
    assert [leg.computed for leg in legs if leg] == [0, 180]


def test_a_pick_that_has_another_rotation_in_the_record_can_be_put_back() -> None:
    good = starter()
    turned = edited("feeders.f03.pick.rotation: 180", good)
    (finding,) = [f for f in linted(turned, good.shop).open if f.rule == "pick-rotation-wrong"]
    assert command("restore", "feeders.f03.pick.rotation") in finding.remedy
    (finding,) = [f for f in linted(turned).open if f.rule == "pick-rotation-wrong"]
    assert command("restore", "feeders.f03.pick.rotation") not in finding.remedy
