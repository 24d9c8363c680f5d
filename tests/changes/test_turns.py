"""What diff says of turns: pin 1 after the change, by the chain before and after it."""

import itertools

import pytest

from jobcheck.changes.diff import diff
from jobcheck.changes.impact import impact_of
from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import PIN1_AT_ZERO
from tests.support.edited import edited

JOB = "jobs.first-board"
PLACED = f"{JOB}.placements"
ON_2, HALF = "pin 1 would be on the pad of pin 2", "it would be half a turn off"
ACROSS = "it would be across its pads"
STAYS = "it was turned with its carrier: pin 1 stays on its pad"
BACK = (
    "feeder_rows.back: {slots: 8, first: {x: 20, y: 250, z: -18}, step: {x: 16, y: 0}, "
    "feed_direction: 270}\n"
)
SECOND = (
    "feeders.f06: {part: diode-sod123, row: front, slot: 6, carrier: tape, remaining: 5}\n"
    "feeders.f06.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: holes}\n"
    "feeders.f06.pick: {x: 100, y: 8, z: -18.2, rotation: 0}\n"
)


def shops(edits: str, base: str = "") -> tuple[Shop, Shop]:
    old, new = edited(base).shop, edited(f"{base}\n{edits}").shop
    assert old is not None
    assert new is not None
    return old, new


def so(edits: str, base: str = "") -> tuple[str, ...]:
    old, new = shops(edits, base)
    return impact_of(diff(old, new), Facts(old), Facts(new)).so


@pytest.mark.parametrize(
    ("edits", "expected"),
    [
        # the pick itself
        ("feeders.f03.pick.rotation: 180", (ON_2,)),
        ("feeders.f03.pick.rotation: 178", (ON_2,)),
        ("feeders.f03.pick.rotation: 3", ()),
        ("feeders.f03.pick.rotation: 45", ("it would be turned by 45 degrees",)),
        ("feeders.f05.pick.rotation: 0", (ACROSS,)),
        # the reel, with or without the pick
        ("feeders.f03.tape.pin1: plain_edge", (f"pick.rotation stayed at 0: {ON_2}",)),
        ("feeders.f05.tape.pin1: q3", (f"pick.rotation stayed at 90: {ACROSS}",)),
        ("feeders.f03.tape.pin1: plain_edge\nfeeders.f03.pick.rotation: 180", (STAYS,)),
        ("feeders.f03.tape.pin1: ~", ()),
        ("feeders.f03.feed_direction: 270", (f"pick.rotation stayed at 0: {ON_2}",)),
        # the row
        (
            "feeder_rows.front.feed_direction: 270",
            ("the picks of f03, f05 stayed: their parts would be placed half a turn off",),
        ),
        (
            "feeder_rows.front.feed_direction: 270\nfeeders.f03.pick.rotation: 180\n"
            "feeders.f05.pick.rotation: 270",
            ("it was turned with its carrier: pin 1 stays on its pad",),
        ),
        # the drawing
        (
            "outlines.sod-123.pin1_at_zero: right",
            ("nothing turns by it, but the pick of f03 no longer fits",),
        ),
        ("outlines.soic-8.zero: B", (ACROSS,)),
        ("outlines.sod-123.zero: ~", ()),
        # the list
        (f"{PLACED}.D1.rotation: 180", (ON_2,)),
        (f"{PLACED}.U1.rotation: 270", (HALF,)),
        (f"{PLACED}.R1.rotation: 180", ("it looks the same so turned, which does no harm",)),
        (f"{PLACED}.U1.rotation: 91", ("it would be turned by 1 degree",)),
        (f"{PLACED}.zero: B", ("8 of 8 placements would be turned by a quarter turn",)),
        (f"{PLACED}.zero: ~", ()),
        (f"{PLACED}.bottom: through-top-mirrored-y", ()),
        (
            f"{PLACED}.D1.rotation: 180\n{PLACED}.D2.rotation: 0\nfeeders.f03.pick.rotation: 180",
            (ON_2, "the pick of f03 makes up for it: pin 1 stays on its pad"),
        ),
        # what lies on the seat
        (
            f"{JOB}.seat.rotation: 90",
            ("where the board itself was not turned by a quarter turn, every part would miss its "
             "pads",),
        ),
    ],
)  # fmt: skip
def test_what_is_said_of_pin_1(edits: str, expected: tuple[str, ...]) -> None:
    assert so(edits) == expected


def test_a_feeder_moved_to_a_row_that_feeds_the_other_way() -> None:
    moved = "feeders.f03.row: back\nfeeders.f03.pick: {x: 52, y: 250, z: -18.2, rotation: ROT}"
    assert f"pick.rotation stayed at 0: {ON_2}" in so(moved.replace("ROT", "0"), BACK)
    assert STAYS in so(moved.replace("ROT", "180"), BACK)


def test_one_of_two_feeders_makes_up_for_nothing() -> None:
    edits = f"{PLACED}.D1.rotation: 180\nfeeders.f03.pick.rotation: 180"
    assert so(edits, SECOND) == (ON_2,)


def test_cells_turned_in_the_panel() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 33], half_turned: [2-1]}}"
    assert so(f"{JOB}.panel.half_turned: [1-1]", panel) == (
        "where cells 1-1, 2-1 were not turned, their parts would be placed half a turn off",
    )


BOTTOM = f"{JOB}.side: bottom\n" + "".join(
    f"{PLACED}.{ref}.side: bottom\n" for ref in ("D1", "D2", "U1", "R1")
)


@pytest.mark.parametrize(
    ("bottom", "said"),
    [
        ("through-top-mirrored-y", "2 of 4 placements would be turned by half a turn"),
        ("through-top-mirrored-x", "1 of 4 placements would be turned by half a turn"),
    ],
)
def test_another_convention_for_the_bottom(bottom: str, said: str) -> None:
    """D1 0, D2 180, U1 90 and the unpolarised R1 0: 180 - r turns D1 and D2, -r turns U1."""
    assert so(f"{PLACED}.bottom: {bottom}", BOTTOM) == (said,)


def test_another_convention_for_positions() -> None:
    said = "4 of 4 placements would be mirrored left to right"
    assert so(f"{PLACED}.bottom_positions: as-placed", BOTTOM) == (said,)
    assert so(f"{PLACED}.bottom_positions: through-top", BOTTOM) == ()


@pytest.mark.parametrize(
    "bottom", ["as-placed", "through-top-mirrored-y", "through-top-mirrored-x"]
)
def test_a_rotation_on_the_bottom_turns_by_its_convention(bottom: str) -> None:
    """Pin 1 of 32 goes to pin 9 or 25, as the list is seen from below or from above."""
    square = "outlines.soic-8.body_mm: [7, 7]\noutlines.soic-8.terminals: 33\n"
    base = BOTTOM + square + f"{PLACED}.bottom: {bottom}"
    pin = 9 if bottom == "as-placed" else 25
    assert so(f"{PLACED}.U1.rotation: 180", base) == (f"pin 1 would be on the pad of pin {pin}",)


@pytest.mark.parametrize(
    ("body", "terminals", "by", "says"),
    [
        ("[7, 7]", 33, 90, "pin 1 would be on the pad of pin 9"),
        ("[7, 7]", 32, 180, "pin 1 would be on the pad of pin 17"),
        ("[7, 7]", 32, 270, "pin 1 would be on the pad of pin 25"),
        ("[3, 3]", 8, 90, "it would be a quarter turn off"),
        ("[3, 3]", 9, 180, "it would be half a turn off"),
        ("[4, 5]", 16, 180, "it would be half a turn off"),
        ("[3, 3]", 2, 180, ON_2),
        ("[3, 3]", 2, 90, "it would be a quarter turn off"),
    ],
)
def test_a_pad_is_named_where_it_is_known(body: str, terminals: int, by: int, says: str) -> None:
    square = f"outlines.soic-8.body_mm: {body}\noutlines.soic-8.terminals: {terminals}"
    assert so(f"{PLACED}.U1.rotation: {90 + by}", square) == (says,)


@pytest.mark.parametrize(
    ("path", "was", "now"),
    [
        (f"{PLACED}.D1.rotation", 270, -90),
        ("feeders.f03.pick.rotation", 180, -180),
        ("feeder_rows.front.feed_direction", 90, 450),
        (f"{JOB}.seat.rotation", 0, 360),
    ],
)
def test_a_full_circle_is_no_change(path: str, was: float, now: float) -> None:
    old, new = shops(f"{path}: {now}", f"{path}: {was}")
    assert diff(old, new) == ()
    old, new = shops(f"{path}: {now + 1}", f"{path}: {was}")
    assert [change.path[-1] for change in diff(old, new)] == [path.rsplit(".", 1)[1]]


@pytest.mark.parametrize("flag_first", [True, False])
def test_a_turn_does_harm_where_either_side_is_polarised(flag_first: bool) -> None:
    old, new = shops(f"{PLACED}.D1.rotation: 180\noutlines.sod-123.polarised: false")
    if not flag_first:
        old, new = new, old
    assert ON_2 in impact_of(diff(old, new), Facts(old), Facts(new)).so


@pytest.mark.parametrize(
    ("edits", "stopped"),
    [
        ("outlines.sod-123.polarised: false", "polarity of sod-123, polarised is false"),
        (
            "outlines.sod-123.pin1_at_zero: ~",
            "drawing of sod-123 against its footprint, pin1_at_zero is missing",
        ),
        ("feeders.f03.tape.pin1: ~", "direction of pin 1 in f03, tape.pin1 is missing"),
        (
            "outlines.chip-0805.same_turned_deg: 90",
            "turns of chip-0805 by 90, same_turned_deg is 90",
        ),
        ("outlines.chip-0805.polarised: true", None),
        ("outlines.sod-123.pin1_at_zero: right", None),
    ],
)
def test_what_a_change_stops_is_named(edits: str, stopped: str | None) -> None:
    old, new = shops(edits)
    found = impact_of(diff(old, new), Facts(old), Facts(new)).no_longer_checked
    assert found == ((stopped,) if stopped else ())


def pin_1(shop: Shop, reference: str) -> float:
    """Where pin 1 of the part comes to lie: its direction in the feeder, turned by the spindle."""
    found = chain(Facts(shop), "first-board", reference)
    (take,) = found.takes
    leg = Facts(shop).polarity.feeders[take.feeder]
    drawn = PIN1_AT_ZERO[shop.outlines[found.outline or ""].pin1_at_zero or ""]
    assert take.turn is not None
    return wrap(leg.computed + drawn + take.turn)


@pytest.mark.parametrize(
    ("pick", "tape", "listed"),
    list(itertools.product((0, 180), ("holes", "plain_edge"), (0, 180))),
)
def test_the_chain_agrees(pick: int, tape: str, listed: int) -> None:
    """All that is said of D1 is where the chain has its pin 1, as long as its pads stay."""
    old, new = shops(
        f"feeders.f03.pick.rotation: {pick}\nfeeders.f03.tape.pin1: {tape}\n"
        f"{PLACED}.D1.rotation: {listed}\n{PLACED}.D2.fitted: no"
    )
    turn = wrap(pin_1(new, "D1") - pin_1(old, "D1"))
    said = impact_of(diff(old, new), Facts(old), Facts(new)).so
    by_feeder, by_list = pick != 0, listed != 0
    feeder_turned = by_feeder != (tape != "holes")
    assert (turn == 180) == (feeder_turned != by_list)
    if feeder_turned and by_list:
        assert "the pick of f03 makes up for it: pin 1 stays on its pad" in said
    else:
        assert (ON_2 in " ".join(said)) == (turn == 180)
