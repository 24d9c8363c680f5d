"""The chain through a described shop: the worked table, measured marks, and what is unknown."""

import json
from typing import Any

import pytest

from jobcheck.facts.chain import Chain, chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames
from jobcheck.facts.polarity import Leg, Proof
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import through_top
from tests.support.edited import edited

JOB = "jobs.first-board"
LIST = f"{JOB}.placements"
BARE = f"""
{JOB}.seat: {{x: 150, y: 210, z: -20, rotation: 90}}
{JOB}.board: {{size_mm: [60, 40]}}
{LIST}: {{zero: A, bottom: through-top-mirrored-y}}
{JOB}.bill: ~
"""
DIODE = BARE + f"{LIST}.D1: {{part: diode-sod123, x: 17, y: 11, rotation: 0, side: SIDE}}\n"
QUAD = (
    BARE
    + f"""
{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [63, 43], half_turned: [2-1]}}
{LIST}.U1: {{part: timer-soic8, x: 40, y: 25, rotation: 45, side: SIDE}}
feeders.f05.tape.pin1: q2
feeders.f05.feed_direction: 270
feeders.f05.pick.rotation: 180
"""
)


def shop(edits: str) -> Shop:
    found = edited(edits).shop
    assert found is not None
    return found


def of(edits: str, reference: str, cell: str | None = None) -> Chain:
    described = shop(edits)
    found = Frames(described.jobs["first-board"]).cell(cell) if cell else None
    return chain(Facts(described), "first-board", reference, found)


@pytest.mark.parametrize(
    ("edits", "reference", "cell", "side", "b", "target", "turn", "faces", "place"),
    [
        (DIODE, "D1", None, "top", 0, 90, 90, -90, (139, 227)),
        (DIODE, "D1", None, "bottom", 180, -90, -90, 90, (139, 253)),
        (QUAD, "U1", "2-1", "top", 45, -45, 135, 90, (135, 293)),
        (QUAD, "U1", "2-1", "bottom", 135, 45, -135, 180, (135, 250)),
    ],
)
def test_the_worked_table(
    edits: str,
    reference: str,
    cell: str | None,
    side: str,
    b: float,
    target: float,
    turn: float,
    faces: float,
    place: tuple[float, float],
) -> None:
    found = of(edits.replace("SIDE", side) + f"{JOB}.side: {side}", reference, cell)
    assert (found.board.angle, found.machine.angle, found.pin1_faces) == (b, target, faces)
    assert found.machine.point == place
    (take,) = found.takes
    assert take.turn == turn


def test_each_step_is_told() -> None:
    """The same table's diode on the bottom, frame by frame."""
    found = of(DIODE.replace("SIDE", "bottom") + f"{JOB}.side: bottom", "D1")
    assert (found.listed.point, found.board.point, found.panel.point) == (
        (17, 11),
        (43, 11),
        (43, 11),
    )
    assert (found.listed.angle, found.panel.angle, found.seat.angle) == (0, 180, -90)
    assert found.seat == found.machine
    assert found.height == pytest.approx(-20 + 1.1)
    assert found.head == pytest.approx((139 + 31.2, 253 - 4))


def test_rails_are_taken_for_alike_where_the_panel_does_not_say_its_size() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 2, pitch_mm: [43, 33], origin_mm: [5, 4]MORE}}"
    sizes = [
        Frames(shop(panel.replace("MORE", more)).jobs["first-board"]).panel_size
        for more in ("", ", size_mm: [99, 77]")
    ]
    assert sizes == [(93, 71), (99, 77)]


def test_the_first_cell_that_is_built_is_meant() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 2, pitch_mm: [43, 33], skip: [1-1, 2-1]}}"
    assert of(panel, "R1").cell.name == "1-2"
    every = panel.replace("[1-1, 2-1]", "[1-1, 2-1, 1-2, 2-2]")
    assert of(every, "R1").cell.is_skipped


# unknown is never zero


def test_what_is_unknown_stays_unknown() -> None:
    bottom = f"{JOB}.side: bottom\n{LIST}.U1.side: bottom\n{LIST}.bottom: ~"
    found = of(bottom, "U1")
    assert (found.board.angle, found.machine.angle, found.pin1_faces) == (None, None, None)
    assert found.takes[0].turn is None
    assert of("outlines.soic-8.height_mm: ~", "U1").height is None
    assert of(f"{LIST}.zero: ~", "U1").zero_offset is None
    assert of("feeders.f05: ~", "U1").takes == ()


def test_each_feeder_of_a_part_has_its_own_turn() -> None:
    second = json.dumps(
        {
            "part": "timer-soic8",
            "carrier": "tape",
            "tape": {"width_mm": 12, "pocket_pitch_mm": 8, "advance_mm": 8, "pin1": "q3"},
            "feed_direction": 90,
            "pick": {"x": 100, "y": 10, "z": -18, "rotation": -90},
        }
    )
    found = of(f"feeders.f06: {second}", "U1")
    assert [(take.feeder, take.turn) for take in found.takes] == [("f05", 0), ("f06", 180)]


# measured marks


def marked(measured: dict[str, tuple[float, float]], more: str = "") -> Frames:
    points = {name: {"x": x, "y": y} for name, (x, y) in measured.items()}
    fiducials = {
        name: {"x": x, "y": y, "diameter_mm": 1}
        for name, (x, y) in {"m1": (4, 4), "m2": (36, 24), "m3": (36, 4), "m4": (4, 24)}.items()
    }
    edits = f"{JOB}.board.fiducials: {json.dumps(fiducials)}\n"
    described = shop(edits + f"{JOB}.seat.measured: {json.dumps(points)}\n" + more)
    return Frames(described.jobs["first-board"])


TWO = {"m1": (154.0, 114.0), "m2": (186.3, 134.2)}
ALL = {"m1": (154.0, 114.0), "m2": (186.0, 134.0), "m3": (186.0, 114.0), "m4": (154.0, 134.0)}


def test_two_marks_fix_a_rigid_move_and_tell_their_distance() -> None:
    found = marked(TWO).found
    assert found.fit is not None
    assert found.fit.kind == "rigid"
    assert found.distance_error_mm == pytest.approx(((32.3**2 + 20.2**2) ** 0.5) - 1424**0.5)
    assert found.is_mirrored is None


def test_three_marks_fix_a_similarity_and_four_an_affine_map() -> None:
    three = marked(dict(list(ALL.items())[:3])).found
    four = marked(ALL).found
    assert three.fit is not None
    assert four.fit is not None
    assert (three.fit.kind, four.fit.kind) == ("similarity", "affine")
    assert four.fit.worst_mm == pytest.approx(0, abs=1e-9)
    assert three.distance_error_mm is four.distance_error_mm is None


def test_marks_that_are_all_in_line_have_no_more_than_a_similarity() -> None:
    line = {"p1": (4, 4), "p2": (14, 4), "p3": (24, 4), "p4": (34, 4)}
    panel = {
        "columns": 1,
        "rows": 1,
        "pitch_mm": [43, 33],
        "fiducials": {name: {"x": x, "y": y, "diameter_mm": 1} for name, (x, y) in line.items()},
    }
    seen = {name: (150.0 + x, 110.0 + y) for name, (x, y) in line.items()}
    found = marked(seen, f"{JOB}.panel: {json.dumps(panel)}").found
    assert found.fit is not None
    assert found.fit.kind == "similarity"


def test_marks_found_mirrored_are_told_and_not_used() -> None:
    mirrored = {name: (340 - x, y) for name, (x, y) in ALL.items()}
    found = marked(mirrored).found
    assert found.is_mirrored is True
    assert found.fit is None
    assert found.at((160.0, 120.0)) == (160, 120)
    assert marked(ALL).found.is_mirrored is False


@pytest.mark.parametrize(
    "measured",
    [
        {"m1": (154.0, 114.0)},
        {"m1": (1.0, 1.0), "m2": (1.0, 1.0)},
        {"m1": (1e300, 1.0), "m2": (1.0, -1e300)},
        {"m1": (1e300, 1.0), "m2": (-1e300, 1.0), "m3": (1.0, 1e300), "m4": (1.0, 1.0)},
    ],
)
def test_what_fixes_nothing_is_no_fit(measured: dict[str, tuple[float, float]]) -> None:
    found = marked(measured).found
    assert found.fit is None
    assert found.turn == 0
    assert len(found.names) == len(measured)


def test_a_measured_mark_that_is_not_described_is_named() -> None:
    found = marked({**TWO, "m9": (1.0, 1.0), "1-1-m1": (2.0, 2.0)}).found
    assert found.unknown == ("m9", "1-1-m1")
    assert found.names == ("m1", "m2")


@pytest.mark.parametrize(
    ("side", "name", "point"),
    [
        ("top", "2-1-m1", (47, 4)),
        ("bottom", "2-1-m1", (4, 4)),
        ("top", "1-1-m1", (36, 26)),
        ("bottom", "1-1-m1", (79, 26)),
    ],
)
def test_marks_of_cells_are_seen_from_the_side_being_placed(
    side: str, name: str, point: tuple[float, float]
) -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 33], half_turned: [1-1]}}\n"
    frames = marked({}, panel + f"{JOB}.side: {side}")
    assert frames.mark(name) == point


def test_a_point_of_the_list_goes_where_the_chain_says() -> None:
    frames = marked(TWO)
    placement = frames.job.placements.by_reference["U1"]
    edits: Any = json.dumps({name: {"x": x, "y": y} for name, (x, y) in TWO.items()})
    found = of(f"{JOB}.board.fiducials.m2: {{x: 36, y: 24, diameter_mm: 1}}\n"
               f"{JOB}.seat.measured: {edits}", "U1")  # fmt: skip
    assert frames.in_machine((placement.x, placement.y)) == pytest.approx(found.machine.point)
    assert found.machine.point != found.seat.point


# how well a leg is known


@pytest.mark.parametrize(
    ("edits", "proof"),
    [
        ("", Proof.PROVEN),
        ("feeders.f03.reel: ~", Proof.DECLARED),
        ("feeders.f03.reel.loaded: 2026-11-03", Proof.DECLARED),
        ("feeders.f03.reel.loaded: 2026-11-02", Proof.PROVEN),
        ("feeders.f03.tape.pin1: ~", Proof.UNKNOWN),
        ("feeders.f03.pick: ~", Proof.UNKNOWN),
        ("outlines.sod-123.pin1_at_zero: ~", Proof.UNKNOWN),
        ("feeders.f03.pick.rotation: 180", Proof.CONTRADICTED),
    ],
)
def test_the_feeder_leg(edits: str, proof: Proof) -> None:
    assert Facts(shop(edits)).polarity.feeder("f03").proof is proof


PAD = f"{LIST}.D1.pin1_x: PAD\n{LIST}.D1.pin1_y: 20\n"
FITS, REVERSED = (PAD.replace("PAD", at) for at in ("10.4", "13.6"))
MEANS = "outlines.sod-123.pad1_means: cathode\n"
LOOK = f"{LIST}.pin1_checked: "
PRINT = "p-78097f1cac47"


def leg_of(edits: str, name: str, reference: str = "D1") -> Leg:
    legs = Facts(shop(edits)).polarity.legs("first-board", reference)
    found: Leg = getattr(legs, name)
    return found


@pytest.mark.parametrize(
    ("edits", "proof", "off"),
    [
        ("", Proof.UNKNOWN, 0),
        (FITS, Proof.PROVEN, 0),
        (REVERSED, Proof.UNKNOWN, 180),
        (REVERSED + MEANS, Proof.CONTRADICTED, 180),
        (REVERSED + "outlines.sod-123.pad1_means: anode", Proof.PROVEN, 0),
        (PAD.replace("PAD", "12.001"), Proof.UNKNOWN, 0),
        ("outlines.sod-123.pad1_at_zero: left", Proof.UNKNOWN, 0),
        (LOOK + "2026-11-20", Proof.DECLARED, 0),
        (LOOK + "{date: 2026-11-20}", Proof.DECLARED, 0),
        (LOOK + f"{{date: 2026-11-20, under: {{D1: {PRINT}}}}}", Proof.PROVEN, 0),
        (LOOK + f"{{date: 2026-11-20, under: {{D2: {PRINT}}}}}", Proof.UNKNOWN, 0),
        (LOOK + "{date: 2026-11-20, under: {D1: p-000000000000}}", Proof.UNKNOWN, 0),
        (REVERSED + MEANS + LOOK + "2026-11-20", Proof.CONTRADICTED, 180),
    ],
)
def test_the_listing_leg(edits: str, proof: Proof, off: float) -> None:
    leg = leg_of(edits, "listing")
    assert (leg.proof, leg.off) == (proof, off)


FOOT = "outlines.sod-123.pad1_at_zero: "


@pytest.mark.parametrize(
    ("edits", "proof", "off"),
    [
        ("", Proof.UNKNOWN, 0),
        (FOOT + "left", Proof.DECLARED, 0),
        (MEANS + FOOT + "left", Proof.PROVEN, 0),
        (FOOT + "right", Proof.UNKNOWN, 180),
        (MEANS + FOOT + "right", Proof.CONTRADICTED, 180),
        ("outlines.sod-123.pad1_means: anode\n" + FOOT + "right", Proof.PROVEN, 0),
        ("outlines.sod-123.pad1_means: anode\n" + FOOT + "left", Proof.CONTRADICTED, 180),
        ("outlines.sod-123.pad1_means: minus\n" + FOOT + "left", Proof.DECLARED, 0),
        (FOOT + "top", Proof.CONTRADICTED, 90),
        (MEANS + f"{LIST}.zero: B\n{FOOT}bottom", Proof.PROVEN, 0),
        (MEANS + f"{LIST}.zero: ~\n{FOOT}left", Proof.UNKNOWN, 0),
        ("outlines.sod-123.pin1_checked: 2026-11-20", Proof.DECLARED, 0),
        (MEANS + FITS, Proof.PROVEN, 0),
    ],
)
def test_the_drawing_leg(edits: str, proof: Proof, off: float) -> None:
    leg = leg_of(edits, "drawing")
    assert (leg.proof, leg.off) == (proof, off)


@pytest.mark.parametrize(
    "change",
    [
        f"{LIST}.D1.rotation: 90",
        f"{LIST}.D1.part: other-diode",
        "outlines.sod-123.pin1_at_zero: right",
        "outlines.sod-123.pin1_means: anode",
        "outlines.sod-123.zero: B",
        f"{LIST}.zero: B",
        f"{LIST}.bottom: through-top-mirrored-y",
    ],
)
def test_a_change_voids_a_look(change: str) -> None:
    other = "parts.other-diode: {outline: sod-123}\n"
    look = LOOK + f"{{date: 2026-11-20, under: {{D1: {PRINT}}}}}\n"
    assert leg_of(other + look, "listing").proof is Proof.PROVEN
    assert leg_of(other + look + change, "listing").proof is Proof.UNKNOWN


def test_a_full_circle_voids_no_look() -> None:
    look = LOOK + f"{{date: 2026-11-20, under: {{D1: {PRINT}}}}}\n"
    assert leg_of(look + f"{LIST}.D1.rotation: -360", "listing").proof is Proof.PROVEN


BOTTOM = (
    f"{JOB}.side: bottom\n{LIST}.bottom: through-top-mirrored-y\n{LIST}.D1.side: bottom\n"
    f"{LIST}.D1.rotation: 180\n"
)


@pytest.mark.parametrize(
    ("edits", "proof"),
    [
        ("", Proof.UNKNOWN),
        (PAD.replace("PAD", "13.6"), Proof.DECLARED),
        (PAD.replace("PAD", "13.6") + f"{LIST}.bottom_positions: through-top", Proof.PROVEN),
        (MEANS + PAD.replace("PAD", "10.4") + f"{LIST}.bottom_positions: through-top",
         Proof.CONTRADICTED),
        (PAD.replace("PAD", "10.4") + f"{LIST}.bottom_positions: as-placed", Proof.PROVEN),
        (PAD.replace("PAD", "10.4") + f"{LIST}.bottom_positions: x-negated", Proof.PROVEN),
    ],
)  # fmt: skip
def test_the_listing_leg_of_the_bottom(edits: str, proof: Proof) -> None:
    assert leg_of(BOTTOM + edits, "listing").proof is proof


@pytest.mark.parametrize(
    ("positions", "x", "place"),
    [("through-top", 17, 43), ("as-placed", 17, 17), ("x-negated", -17, 43)],
)
def test_positions_on_the_bottom(positions: str, x: float, place: float) -> None:
    edits = DIODE.replace("SIDE", "bottom").replace("x: 17", f"x: {x}")
    edits += f"{JOB}.side: bottom\n{LIST}.bottom_positions: {positions}"
    assert of(edits, "D1").board.point == (place, 11)


def test_an_origin_is_on_the_side_that_the_list_counts_from() -> None:
    """Listed -13 from an origin at 4 through the top with x negated is 17 through the top."""
    assert through_top(-13 + 4, 60, 4, "x-negated") == 17
    assert through_top(13 + 4, 60, 4, "as-placed") == 43


def test_a_level_is_missing_only_where_another_is_declared() -> None:
    none = f"{LIST}.zero: ~\n" + "".join(
        f"outlines.{name}.zero: ~\n" for name in ("chip-0603", "chip-0805", "sod-123", "soic-8")
    )
    found = of(none, "U1")
    assert (found.zero_offset, found.is_zero_assumed) == (0, True)
    assert of(none + "outlines.sod-123.zero: A", "U1").zero_offset is None
    assert of("outlines.chip-0805.zero: ~", "C1").machine.angle is None


# the verdict


def test_the_weakest_leg_decides() -> None:
    legs = Facts(shop(MEANS + FOOT + "left")).polarity.legs("first-board", "D1")
    assert (legs.verdict, legs.weakest) == (Proof.UNKNOWN, "listing")
    legs = Facts(shop(MEANS + FOOT + "left\n" + FITS)).polarity.legs("first-board", "D1")
    assert legs.verdict is Proof.PROVEN
