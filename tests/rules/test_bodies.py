"""Bodies: one finding a cause, and silence where bodies may overlap or are not known."""

import pytest

from jobcheck.findings import Level
from jobcheck.shop.paths import show
from jobcheck.shop.shop import Shop
from tests.support.edited import edited, linted, starter

PLACED = "jobs.first-board.placements"


def found(edits: str, good: Shop | None = None) -> list[tuple[str, str, Level]]:
    findings = linted(edited(edits), good).findings
    return [(finding.rule, show(finding.path), finding.level) for finding in findings]


def says(edits: str) -> str:
    (finding,) = linted(edited(edits)).findings
    return f"{finding.message} {finding.observed}"


def grid(part: str, count: int, pitch: float, letter: str = "N") -> str:
    """Place a part in a row of its own, high on a board that is made large enough."""
    rows = [
        f"{PLACED}.{letter}{i + 1}: "
        f"{{part: {part}, x: {10 + pitch * i:g}, y: 60, rotation: 0, side: top}}"
        for i in range(count)
    ]
    return "\n".join(
        [
            "jobs.first-board.board.size_mm: [90, 80]",
            "jobs.first-board.board.fiducials.m2: {x: 84, y: 70, diameter_mm: 1.0}",
            "jobs.first-board.bill: ~",
            *rows,
        ]
    )


def test_a_board_of_well_parted_bodies_is_clean() -> None:
    assert found(grid("10k-0603", 12, 3)) == []


def test_an_outline_with_a_wrong_body_is_one_finding() -> None:
    edits = grid("10k-0603", 12, 3) + "\noutlines.chip-0603.body_mm: [6.1, 0.8]"
    ours = [entry for entry in found(edits) if entry[0].startswith("bod")]
    assert ours == [("bodies-too-close", "outlines.chip-0603.body_mm", Level.ERROR)]


def test_a_placement_moved_onto_several_is_one_finding() -> None:
    edits = grid("10k-0603", 12, 3) + f"\n{PLACED}.U1.x: 19\n{PLACED}.U1.y: 60"
    assert found(edits) == [("bodies-too-close", f"{PLACED}.U1", Level.ERROR)]
    assert "U1 overlaps N3, N4, N5 by up to" in says(edits)


def test_the_placement_that_changed_since_the_record_is_at_fault() -> None:
    good = edited(grid("10k-0603", 12, 3))
    edits = f"{PLACED}.N2.x: 15.8\n"
    (finding,) = linted(edited(edits, base=good), good.shop).findings
    assert finding.rule == "bodies-too-close"
    assert show(finding.path) == f"{PLACED}.N2"


def test_many_overlaps_of_many_causes_are_one_finding() -> None:
    parts = ["10k-0603", "100n-0805", "diode-sod123", "timer-soic8"]
    rows = [
        f"{PLACED}.{letter}{i}: {{part: {parts[i % 4]}, x: {8 + 9 * (i // 2)}, y: {50 + 9 * row}, "
        "rotation: 0, side: top}"
        for row, letter in enumerate("NMK")
        for i in range(16)
    ]
    edits = "\n".join([grid("10k-0603", 0, 3), *rows])
    ours = [entry for entry in found(edits) if entry[0] == "bodies-too-close"]
    assert len(ours) == 1
    assert "24 pairs of parts of first-board overlap" in says(edits)


def test_a_heap_of_placements_ends_soon_and_says_so() -> None:
    rows = [f"{PLACED}.N{i}: {{part: 10k-0603, x: 30, y: 22}}" for i in range(3000)]
    edits = "\n".join([grid("10k-0603", 0, 3), *rows])
    (finding,) = [f for f in linted(edited(edits)).findings if f.rule == "bodies-too-close"]
    assert "or more" in finding.message


def test_lower_parts_may_stand_under_a_shield() -> None:
    over = f"{PLACED}.R1.x: 24\n{PLACED}.R1.y: 20"
    assert [entry[0] for entry in found(over)] == ["bodies-too-close"]
    assert found(over + "\noutlines.soic-8.open_below_mm: 0.5") == []
    lower = over + "\noutlines.soic-8.open_below_mm: 0.4"
    assert [entry[0] for entry in found(lower)] == ["bodies-too-close"]


def test_bodies_turn_with_their_placement() -> None:
    """D1 and D2 lie 4 mm apart in y; turned, their 2.8 mm would not touch 3.2 mm away."""
    assert found(f"{PLACED}.D2.y: 23.2") == []
    both = f"{PLACED}.D2.y: 22.6\n{PLACED}.D1.rotation: 90\n{PLACED}.D2.rotation: 270"
    assert [entry[0] for entry in found(both)] == ["bodies-too-close"]
    assert found(f"{PLACED}.D2.y: 22.6") == []


def test_a_drawing_at_the_other_level_lies_turned() -> None:
    """Drawn at A, listed at B: a quarter turn, so 2.8 mm stand where 1.8 mm stood."""
    edits = f"{PLACED}.D2.y: 22.6\n{PLACED}.zero: B"
    assert "bodies-too-close" in [entry[0] for entry in found(edits)]


def test_parts_not_fitted_or_on_the_other_side_overlap_nothing() -> None:
    over = f"{PLACED}.R2.y: 8.3"
    assert [entry[0] for entry in found(over)] == ["bodies-too-close"]
    assert found(over + f"\n{PLACED}.R2.side: bottom") == []


@pytest.mark.parametrize(("x", "level"), [(11, Level.ERROR), (12.4, Level.WARNING), (12.6, None)])
def test_holes(x: float, level: Level | None) -> None:
    hole = f"jobs.first-board.board.holes.h1: {{x: {x}, y: 8, diameter_mm: 3}}"
    edits = f"{hole}\n{PLACED}.R3.y: 4\n{PLACED}.R2.y: 14"
    expected = [("body-over-hole-or-fiducial", f"{PLACED}.R1", level)] if level else []
    assert found(edits) == expected


def test_a_hole_is_seen_from_the_side_that_is_placed() -> None:
    """Lists count from the left seen from the top, holes as the board lies when it is placed."""
    hole = "jobs.first-board.board.holes.h1: {x: 32, y: 5, diameter_mm: 3}"
    references = ("R1", "R2", "R3", "C1", "C2", "D1", "D2", "U1")
    rows = "".join(f"\n{PLACED}.{reference}.side: bottom" for reference in references)
    turned = f"{hole}\njobs.first-board.side: bottom{rows}\n{PLACED}.R1.x: 8\n{PLACED}.R1.y: 5"
    assert [entry[:2] for entry in found(turned)] == [
        ("body-over-hole-or-fiducial", f"{PLACED}.R1")
    ]


def test_placements_in_another_unit_are_not_called_a_heap() -> None:
    assert [entry[0] for entry in found(f"{PLACED}.units: mil")] == ["list-frame-wrong"]


def test_a_connector_may_overhang_as_far_as_declared() -> None:
    out = f"{PLACED}.U1.x: 37.8\n{PLACED}.U1.y: 13"
    assert found(out) == [("body-beyond-edge", f"{PLACED}.U1", Level.WARNING)]
    assert "0.25 mm beyond the right edge" in says(out)
    assert found(out + "\noutlines.soic-8.overhang_mm: 0.25") == []
    assert "overhang_mm 0.2 is declared" in says(out + "\noutlines.soic-8.overhang_mm: 0.2")


PANEL = "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [41, 30], size_mm: [81, 30]}"
OVER = f"outlines.soic-8.overhang_mm: 3\n{PLACED}.U1.y: 13\n{PLACED}.U1.x: 39"


def test_a_connector_over_the_next_board() -> None:
    assert found(f"{PANEL}\n{OVER}\n{PLACED}.U1.x: 38.5") == []
    assert found(f"{PANEL}\n{OVER}") == [("body-beyond-edge", f"{PLACED}.U1", Level.WARNING)]
    meets = f"{PANEL}\n{OVER}\n{PLACED}.D1.x: 1.5\n{PLACED}.D1.y: 13"
    assert ("body-beyond-edge", f"{PLACED}.U1", Level.ERROR) in found(meets)
    (finding,) = [f for f in linted(edited(meets)).findings if f.level is Level.ERROR]
    assert "U1 meets D1 of the next board" in finding.observed


def test_a_connector_over_a_rail_but_not_outwards() -> None:
    railed = PANEL.replace("pitch_mm: [41, 30]", "pitch_mm: [50, 30], origin_mm: [5, 0]")
    right = f"{railed}\n{OVER}".replace("size_mm: [81, 30]", "size_mm: [95, 30]")
    assert found(right) == []
    rail = f"{railed}\n{OVER}".replace("size_mm: [81, 30]", "size_mm: [100, 30]")
    assert found(rail) == [("body-beyond-edge", f"{PLACED}.U1", Level.WARNING)]


def test_half_turned_neighbours_meet_edge_to_edge() -> None:
    turned = PANEL.replace("size_mm", 'half_turned: ["2-1"], size_mm')
    edits = f"{turned}\noutlines.soic-8.overhang_mm: 3\n{PLACED}.U1: "
    edits += "{part: timer-soic8, x: 39, y: 15, rotation: 90, side: top}"
    assert "U1 meets U1 of the next board" in says(edits)


def test_starter_stays_clean() -> None:
    assert linted(starter()).findings == ()


def test_bodies_that_overlap_by_less_than_a_tenth_only_touch() -> None:
    near = f"{PLACED}.C2.x: 23.62"
    assert found(near) == [("bodies-too-close", f"{PLACED}.C2", Level.WARNING)]
    assert "over each other by" in says(near)


def test_a_chip_on_the_leads_of_a_case_is_found() -> None:
    """U1 is 4.9 x 3.9 mm; its leads reach 3 mm from its middle along y."""
    wide = "outlines.soic-8.over_terminals_mm: [4.9, 6]"
    at = f"{PLACED}.R3: {{part: 10k-0603, x: 24, y: 17.4, rotation: 0}}"
    assert "bodies-too-close" not in [entry[0] for entry in found(at)]
    ours = [entry for entry in found(f"{wide}\n{at}") if entry[0] == "bodies-too-close"]
    assert [entry[2] for entry in ours] == [Level.WARNING]


def test_a_described_gap_is_free_for_an_overhang() -> None:
    """A routed gap of 3 mm between cell and rail: a connector may be over it."""
    railed = PANEL.replace("pitch_mm: [41, 30]", "pitch_mm: [50, 30], origin_mm: [5, 0]")
    rail = f"{railed}\n{OVER}".replace("size_mm: [81, 30]", "size_mm: [100, 30]")
    assert [entry[0] for entry in found(rail)] == ["body-beyond-edge"]
    assert found(f"{rail}\njobs.first-board.panel.rail_gap_mm: 3") == []
    short = f"{rail}\njobs.first-board.panel.rail_gap_mm: 0.2"
    assert [entry[0] for entry in found(short)] == ["body-beyond-edge"]
    wide = f"{PANEL.replace('pitch_mm: [41, 30]', 'pitch_mm: [45, 30]')}\n{OVER}"
    wide = wide.replace("size_mm: [81, 30]", "size_mm: [85, 30]")
    assert found(wide) == []
    narrow = f"{wide}\njobs.first-board.panel.cell_gap_mm: 0.5"
    assert [entry[0] for entry in found(narrow)] == ["body-beyond-edge"]


def test_an_outline_that_may_overhang_may_have_its_centre_outside() -> None:
    """A connector whose body is 4.9 x 3.9 mm, with its centre 1 mm beyond the edge."""
    out = f"{PLACED}.U1.x: 41"
    assert "placement-outside-board" in [entry[0] for entry in found(out)]
    assert found(f"{out}\noutlines.soic-8.overhang_mm: 3.5") == []
    assert "placement-outside-board" in [
        entry[0] for entry in found(f"{out}\noutlines.soic-8.overhang_mm: 3.4")
    ]


def test_a_low_part_may_not_cross_the_rim_of_a_shield() -> None:
    """U1 reaches 1.95 mm from its middle along x when turned by 90."""
    shield = "outlines.soic-8.open_below_mm: 0.5"
    assert found(f"{shield}\n{PLACED}.R1: {{part: 10k-0603, x: 25, y: 20, rotation: 0}}") == []
    ours = found(f"{shield}\n{PLACED}.R1: {{part: 10k-0603, x: 25.8, y: 20, rotation: 0}}")
    assert [(rule, level) for rule, _, level in ours] == [("bodies-too-close", Level.WARNING)]
