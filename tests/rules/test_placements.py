"""Placements and lists: one cause is one finding, and a usual list brings none."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.rules.base import Rule
from jobcheck.rules.boards import lists, placements
from jobcheck.rules.polarity import declared
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

JOB = "jobs.first-board"
LIST = f"{JOB}.placements"
POSITIONS = (
    placements.placement_outside_board,
    placements.list_frame_wrong,
)
AT = {
    "R1": (10.0, 8.0),
    "R2": (10.0, 11.0),
    "R3": (16.0, 8.0),
    "C1": (22.0, 9.0),
    "C2": (28.0, 9.0),
    "D1": (12.0, 20.0),
    "D2": (12.0, 24.0),
    "U1": (24.0, 20.0),
}


def found(edits: str, *rules: Rule) -> list[Finding]:
    names = {rule.name for rule in rules}
    return [finding for finding in linted(edited(edits)).findings if finding.rule in names]


def paths(edits: str, *rules: Rule) -> list[str]:
    return [show(finding.path) for finding in found(edits, *rules)]


def moved(x: float = 1, y: float = 1, by: tuple[float, float] = (0, 0), more: str = "") -> str:
    """Every placement with its position scaled, then moved."""
    return more + "".join(
        f"{LIST}.{ref}.x: {at[0] * x + by[0]}\n{LIST}.{ref}.y: {at[1] * y + by[1]}\n"
        for ref, at in AT.items()
    )


# where they lie


@pytest.mark.parametrize(("x", "outside"), [(0, False), (40, False), (40.01, True), (-0.01, True)])
def test_a_centre_may_lie_on_the_edge(x: float, outside: bool) -> None:
    expected = [f"{LIST}.R3.x"] if outside else []
    assert paths(f"{LIST}.R3.x: {x}", *POSITIONS) == expected


def test_those_outside_are_one_finding_that_names_them() -> None:
    (finding,) = found(f"{LIST}.R3.y: 31\n{LIST}.R1.x: -4", *POSITIONS)
    assert finding.message == "2 placements are outside the board of first-board."
    assert finding.observed == "R1 at x -4, y 8, R3 at x 16, y 31; the board is 40 × 30 mm"
    assert show(finding.path) == f"{LIST}.R1.x"


def test_what_is_not_placed_may_lie_anywhere() -> None:
    assert paths(f"{LIST}.R3.x: 400\n{LIST}.R3.fitted: no", *POSITIONS) == []
    assert paths(f"{LIST}.R3.x: 400\n{LIST}.R3.side: bottom", *POSITIONS) == []


def test_an_overhang_is_a_limit() -> None:
    assert paths(f"shop.limits.outside_board_mm: 2\n{LIST}.R3.x: 42", *POSITIONS) == []


@pytest.mark.parametrize(
    ("declared", "factor", "meant"),
    [
        ("mm", 1 / 0.0254, "mil"),
        ("mm", 1 / 25.4, "inch"),
        ("inch", 1, "mm"),
        ("inch", 1000 / 25.4, "mil"),
        ("mil", 1, "mm"),
        ("mil", 1 / 25.4, "inch"),
    ],
)
def test_a_list_in_another_unit_is_one_finding(declared: str, factor: float, meant: str) -> None:
    edits = moved(factor, factor, more=f"{LIST}.units: {declared}\n")
    (finding,) = found(edits, *POSITIONS)
    assert finding.rule == "list-frame-wrong"
    assert finding.message == f"the placements of first-board look like {meant}, not {declared}."
    assert show(finding.path) == f"{LIST}.units"
    is_too_large = {"mm": 1.0, "mil": 0.0254, "inch": 25.4}
    expected = Level.ERROR if is_too_large[declared] > is_too_large[meant] else Level.WARNING
    assert finding.level is expected


@pytest.mark.parametrize("declared", ["mil", "inch"])
def test_a_list_in_its_declared_unit_brings_nothing(declared: str) -> None:
    factor = {"mil": 1 / 0.0254, "inch": 1 / 25.4}[declared]
    assert paths(moved(factor, factor, more=f"{LIST}.units: {declared}\n"), *POSITIONS) == []


def test_a_small_cluster_away_from_the_corner_is_no_unit() -> None:
    assert paths(moved(0.04, 0.04, (20, 15)), *POSITIONS) == []


@pytest.mark.parametrize(("x", "y"), [(-1, 1), (1, -1), (-1, -1)])
def test_negative_positions_throughout_are_a_mirrored_list(x: int, y: int) -> None:
    assert paths(moved(x, y), *POSITIONS) == [LIST]
    assert found(moved(x, y), *POSITIONS)[0].rule == "list-frame-wrong"


def test_mirrored_names_the_axis() -> None:
    (finding,) = found(moved(-1, 1), *POSITIONS)
    assert finding.message == (
        "the placements of first-board look mirrored: x of all 8 is negative."
    )


def test_another_origin_is_one_finding() -> None:
    (finding,) = found(moved(by=(100, 80)), *POSITIONS)
    assert finding.rule == "list-frame-wrong"
    assert finding.observed == (
        "positions from x 110 to 128, y 88 to 104 mm on a board of 40 × 30 mm, 8 of 8 are outside"
    )


def test_a_list_that_fits_in_no_way_names_those_outside() -> None:
    (finding,) = found(moved(7, 3, (50, 0)), *POSITIONS)
    assert finding.rule == "placement-outside-board"


def test_an_outlier_is_no_common_cause() -> None:
    assert found(f"{LIST}.R3.x: 630", *POSITIONS)[0].rule == "placement-outside-board"


# how they are turned


@pytest.mark.parametrize(
    ("angle", "odd"), [(-45, False), (315, False), (360.001, False), (30, True), (89, True)]
)
def test_multiples_of_45_are_usual(angle: float, odd: bool) -> None:
    expected = [f"{LIST}.R2.rotation"] if odd else []
    assert paths(f"{LIST}.R2.rotation: {angle}", placements.rotation_doubtful) == expected


def test_odd_rotations_are_one_finding_sorted_by_angle() -> None:
    edits = f"{LIST}.U1.rotation: 30\n{LIST}.D2.rotation: 30\n{LIST}.R1.rotation: -3"
    (finding,) = found(edits, placements.rotation_doubtful)
    assert finding.message == "3 placements of first-board are turned by an unusual angle."
    assert finding.observed == "-3 (R1), 30 (D2, U1)"


# lists


def test_references_that_stand_twice_are_one_finding() -> None:
    row = "{part: 10k-0603, x: 34, y: 8, side: top}"
    edits = f'{LIST}."R1 ": {row}\n{LIST}." R1": {row}\n{LIST}." R2": {row}'
    (finding,) = found(edits, lists.reference_repeated)
    assert finding.message == (
        "2 references are more than once in the placement list of first-board."
    )
    assert finding.observed == "R1 3 times, R2 2 times"
    assert finding.level is Level.ERROR


def test_in_a_bill_a_second_row_is_a_warning() -> None:
    (finding,) = found(f'{JOB}.bill."R1 ": {{part: 10k-0603}}', lists.reference_repeated)
    assert (show(finding.path), finding.level) == (f"{JOB}.bill.R1", Level.WARNING)


def test_a_missing_part_names_what_the_bill_has() -> None:
    edits = f"{LIST}.U1.part: ~\n{LIST}.D1.part: ~\n{JOB}.bill.D1.part: ~"
    (finding,) = linted(edited(edits)).findings
    assert finding.rule == "placement-without-part"
    assert finding.observed == "D1, U1"
    assert in_words(finding.remedy).endswith("The bill has U1 timer-soic8.")


def test_a_list_of_both_sides_is_usual() -> None:
    assert linted(edited(f"{LIST}.U1.side: bottom\n{LIST}.R1.side: bottom")).findings == ()


def test_an_empty_list_is_an_error_where_a_run_is_planned() -> None:
    empty = f"{JOB}.bill: ~\n{LIST}: {{zero: A}}"
    (finding,) = found(empty, lists.placements_not_built)
    assert (finding.level, show(finding.path)) == (Level.ERROR, LIST)
    (finding,) = found(f"{empty}\n{JOB}.run: ~", lists.placements_not_built)
    assert (finding.level, show(finding.path)) == (Level.WARNING, LIST)


def test_rows_that_are_not_parts_are_one_warning() -> None:
    edits = "".join(f"{LIST}.{ref}: {{x: 5, y: 9}}\n" for ref in ("TP1", "TP2", "H3", "LOGO"))
    (finding,) = linted(edited(edits)).open
    assert (finding.rule, finding.level) == ("placement-without-part", Level.WARNING)
    assert finding.observed == "H3, LOGO, TP1, TP2"
    unfitted = edits.replace("y: 9}", "y: 9, fitted: no}")
    assert linted(edited(unfitted)).open == ()


def test_a_missing_part_without_a_run_is_a_warning() -> None:
    (finding,) = found(f"{LIST}.U1.part: ~\n{JOB}.run: ~", lists.placement_without_part)
    assert finding.level is Level.WARNING


# the list as a whole


def since(edits: str) -> list[Finding]:
    """What lint reports where the starter shop is the record."""
    return list(linted(edited(edits), starter().shop).open)


@pytest.mark.parametrize(
    ("edits", "says", "level"),
    [
        (moved(by=(2, 3)), "moved by (2, 3) mm", Level.WARNING),
        (moved(-1, 1, (40, 0)), "mirrored in x", Level.WARNING),
        (moved(1, -1, (0, 30)), "mirrored in y", Level.WARNING),
        (moved(-1, 1), "mirrored in x", Level.ERROR),
        (moved(by=(100, 80)), "moved by (100, 80) mm", Level.ERROR),
        (moved(1 / 25.4, 1 / 25.4), "scaled by 0.03937", Level.ERROR),
        (moved(25.4, 25.4), "scaled by 25.4", Level.ERROR),
    ],
)
def test_what_happened_to_a_whole_list_is_one_finding(edits: str, says: str, level: Level) -> None:
    (finding,) = since(edits)
    assert (finding.rule, finding.level) == ("list-frame-wrong", level)
    assert finding.message == f"all 8 rows of first-board are {says} since the record."


def test_a_board_drawn_from_another_corner_with_its_fiducials_is_no_fault() -> None:
    fiducials = (
        f"{JOB}.board.fiducials.m1: {{x: 6, y: 7, diameter_mm: 1.0}}\n"
        f"{JOB}.board.fiducials.m2: {{x: 38, y: 25, diameter_mm: 1.0}}"
    )
    rules = [finding.rule for finding in since(moved(by=(2, 3), more=f"{fiducials}\n"))]
    assert "list-frame-wrong" not in rules


def test_single_moves_are_not_the_list() -> None:
    assert since(f"{LIST}.R1.x: 9.5\n{LIST}.U1.y: 19.5") == []


FIDUCIALS = {"FID1": (4.0, 4.0), "FID2": (36.0, 22.0)}


@pytest.mark.parametrize(
    ("x", "y", "by", "says"),
    [
        (1, 1, (10, 5), "moved by (10, 5) mm"),
        (-1, 1, (40, 0), "mirrored in x"),
        (1 / 25.4, 1 / 25.4, (0, 0), "scaled by 0.03937"),
        (1, 1, (0, 0), ""),
    ],
)
def test_fiducial_rows_show_the_frame_of_a_list(
    x: float, y: float, by: tuple[float, float], says: str
) -> None:
    rows = "".join(
        f"{LIST}.{name}: {{x: {round(at[0] * x + by[0], 4)}, y: {round(at[1] * y + by[1], 4)}}}\n"
        for name, at in FIDUCIALS.items()
    )
    findings = found(rows, placements.list_frame_wrong)
    assert [finding.level for finding in findings] == [Level.ERROR] * bool(says)
    assert all(says in finding.message for finding in findings)


@pytest.mark.parametrize(
    ("side", "declared", "xs", "advice"),
    [
        ("bottom", "through-top", (36, 4), ""),
        ("bottom", "as-placed", (4, 36), ""),
        ("bottom", "through-top", (4, 36), "fit bottom_positions as-placed"),
        ("bottom", "as-placed", (36, 4), "fit bottom_positions through-top"),
        ("top", "through-top", (36, 4), "If it is the bottom, correct the job's side."),
    ],
)
def test_fiducial_rows_show_the_side_of_a_list(
    side: str, declared: str, xs: tuple[int, int], advice: str
) -> None:
    """The board's fiducials are seen from the side being placed, at x 4 and 36 of 40 mm."""
    edits = f"{JOB}.side: {side}\n{LIST}.bottom: as-placed\n{LIST}.bottom_positions: {declared}\n"
    edits += "".join(f"{LIST}.{ref}.side: {side}\n" for ref in AT)
    for name, x, y in zip(("FID1", "FID2"), xs, (4, 22), strict=True):
        edits += f"{LIST}.{name}: {{x: {x}, y: {y}, side: {side}}}\n"
    findings = found(edits, placements.list_frame_wrong)
    assert [advice in in_words(finding.remedy) for finding in findings] == [True] * bool(advice)


def test_a_list_cut_in_half_is_an_error() -> None:
    gone = "".join(f"{LIST}.{ref}: ~\n" for ref in ("C2", "D1", "D2", "U1"))
    (finding,) = since(gone)
    assert (finding.rule, finding.level) == ("list-rows-lost", Level.ERROR)
    assert finding.message == (
        "the last 4 of 8 rows are missing, from C2 on in the list of first-board."
    )
    empty = since(f"{LIST}: {{zero: A, bottom: as-placed}}")
    assert [finding.rule for finding in empty] == ["list-rows-lost"]


def test_rotations_negated_are_one_finding() -> None:
    good = edited("".join(f"{LIST}.{ref}.rotation: {45 * at}\n" for at, ref in enumerate(AT)))
    negated = "".join(f"{LIST}.{ref}.rotation: {-45 * at}\n" for at, ref in enumerate(AT))
    (finding,) = linted(edited(negated, base=good), good.shop).open
    assert finding.rule == "list-frame-wrong"
    assert "are negated since the record" in finding.message


def test_a_side_with_nothing_fitted_is_said_so() -> None:
    edits = "".join(f"{LIST}.{ref}.fitted: no\n" for ref in AT)
    (finding,) = found(edits, lists.placements_not_built)
    assert finding.message == "first-board builds the top, but nothing there is fitted."


def test_each_way_of_counting_on_the_bottom_is_a_declaration() -> None:
    bottom = f"{JOB}.side: bottom\n{LIST}.U1.side: bottom\n{LIST}.bottom: "
    for convention in ("as-placed", "through-top-mirrored-y", "through-top-mirrored-x"):
        assert paths(bottom + convention, declared.rotation_convention_missing) == []
    assert paths(bottom + "~", declared.rotation_convention_missing) == [f"{LIST}.bottom"]


def test_bill_and_list_of_other_boards_are_one_finding() -> None:
    edits = f"{JOB}.bill: {{X1: {{part: 10k-0603}}, X2: {{part: 10k-0603}}}}"
    (finding,) = linted(edited(edits)).findings
    assert finding.message == "bill and placement list of first-board have no reference in common."


def test_other_parts_are_one_finding_a_job() -> None:
    edits = f"{JOB}.bill.C1.part: 10k-0603\n{JOB}.bill.C2.part: 10k-0603\n"
    (finding,) = found(edits, lists.bill_contradicts_placements)
    assert finding.message == (
        "bill and placement list of first-board contradict each other at 2 references."
    )
    assert (
        finding.observed == "C1 100n-0805, in the bill 10k-0603, C2 100n-0805, in the bill 10k-0603"
    )


def test_a_bill_may_have_names_of_its_own() -> None:
    (finding,) = linted(edited(f"{JOB}.bill.C1.part: CC0805-100n")).open
    assert (finding.rule, finding.level) == ("bill-contradicts-placements", Level.WARNING)
    assert finding.observed == "C1 100n-0805, in the bill CC0805-100n"


def test_an_unknown_name_in_the_list_is_told_as_such_alone() -> None:
    findings = linted(edited(f"{LIST}.C1.part: 100n-0850")).open
    assert [finding.rule for finding in findings] == ["name-unknown"]


def test_what_is_no_part_of_the_shop_is_fitted_by_hand() -> None:
    (finding,) = linted(edited(f"{JOB}.bill.J1: {{part: terminal-block}}")).open
    assert (finding.rule, finding.level) == ("bill-contradicts-placements", Level.NOTE)


@pytest.mark.parametrize(("block", "level"), [("placements", Level.WARNING), ("bill", Level.ERROR)])
def test_fitted_in_one_list_only(block: str, level: Level) -> None:
    (finding,) = found(f"{JOB}.{block}.R1.fitted: no", lists.bill_contradicts_placements)
    assert finding.level is level


def test_the_other_sides_rows_are_not_compared() -> None:
    edits = f"{LIST}.C1.side: bottom\n{JOB}.bill.C1.part: 10k-0603"
    assert paths(edits, lists.bill_contradicts_placements, lists.bill_contradicts_placements) == []
