"""Fiducials: each fault by its own rule, and silence where nothing can be said."""

from collections.abc import Mapping

import pytest

from jobcheck.shop.paths import show
from tests.support.edited import edited, linted

BOARD = "jobs.first-board.board"
PANEL = (
    "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], origin_mm: [8, 0], "
    "size_mm: [99, 30]"
)


def found(edits: str) -> list[tuple[str, str]]:
    return [(f.rule, show(f.path)) for f in linted(edited(edits)).findings]


def panel(rest: str, fiducials: Mapping[str, tuple[float, float]]) -> str:
    marks = ", ".join(
        f"{name}: {{x: {x}, y: {y}, diameter_mm: 1.0}}" for name, (x, y) in fiducials.items()
    )
    return f"{PANEL}{rest}, fiducials: {{{marks}}}}}"


def test_a_board_without_marks_in_a_panel_with_two_is_well() -> None:
    bare = f"{BOARD}.fiducials: {{}}"
    assert found(bare) == [("fiducials-too-few", f"{BOARD}.fiducials")]
    assert found(f"{bare}\n{panel('', {'p1': (4, 4), 'p2': (95, 22)})}") == []
    one = f"{bare}\n{panel('', {'p1': (4, 4)})}"
    assert found(one) == [("fiducials-too-few", "jobs.first-board.panel.fiducials")]


def test_four_marks_in_the_corners_are_symmetric() -> None:
    corners = "\n".join(
        f"{BOARD}.fiducials.{name}: {{x: {x}, y: {y}, diameter_mm: 1.0}}"
        for name, x, y in (("m1", 4, 4), ("m2", 36, 26), ("m3", 4, 26), ("m4", 36, 4))
    )
    assert found(corners) == [("fiducials-symmetric", f"{BOARD}.fiducials")]


@pytest.mark.parametrize(("radius", "rules"), [("2.9", ["fiducials-symmetric"]), ("2.7", [])])
def test_symmetry_goes_by_the_search_radius_of_the_mark(radius: str, rules: list[str]) -> None:
    """m1 turned lies at (36, 26): 2.83 mm from m2 at (34, 24)."""
    moved = f"{BOARD}.fiducials.m2: {{x: 34, y: 24, diameter_mm: 1.0, search_radius_mm: {radius}}}"
    assert [rule for rule, _ in found(moved)] == rules


def test_a_panel_that_maps_onto_itself_may_lie_either_way() -> None:
    marks = {"p1": (4, 4), "p2": (95, 26)}
    assert found(panel("", marks)) == [("fiducials-symmetric", "jobs.first-board.panel.fiducials")]
    assert found(panel(', half_turned: ["2-1"]', marks)) == []


def test_the_marks_of_an_asymmetric_panel_decide() -> None:
    board = f"{BOARD}.fiducials.m2: {{x: 36, y: 26, diameter_mm: 1.0}}"
    assert [rule for rule, _ in found(board)] == ["fiducials-symmetric"]
    assert found(f"{board}\n{panel('', {'p1': (4, 4), 'p2': (95, 22)})}") == []


def test_a_tooling_hole_of_another_size_is_no_look_alike() -> None:
    near = f"{BOARD}.holes.h1: {{x: 5.4, y: 4, diameter_mm: %s}}"
    assert found(near % 1.29) == [("fiducial-look-alike", f"{BOARD}.fiducials.m1")]
    assert found(near % 1.4) == []


def test_a_second_mark_beside_one_is_a_look_alike() -> None:
    near = f"{BOARD}.fiducials.m3: {{x: 5.8, y: 4, diameter_mm: 1.0}}"
    assert found(near) == [("fiducial-look-alike", f"{BOARD}.fiducials.m1")]


def test_a_clear_ring_that_reaches_beyond_the_edge_is_found_on_boards_and_panels() -> None:
    near = "{x: 1.2, y: 4, diameter_mm: 1.0, clear_mm: 1.0}"
    assert found(f"{BOARD}.fiducials.m1: {near}") == [
        ("fiducial-unsuitable", f"{BOARD}.fiducials.m1")
    ]


def test_the_better_of_board_and_panel_counts() -> None:
    coarse = "shop.limits.fiducial_noise_mm: 0.068"
    assert [rule for rule, _ in found(coarse)] == ["fiducial-error-too-large"]
    four = panel("", {"p1": (4, 4), "p2": (95, 22), "p3": (4, 26), "p4": (95, 4)})
    assert found(f"{coarse}\n{four}") == []


def test_the_error_is_that_of_the_part_which_allows_least() -> None:
    (finding,) = linted(edited("shop.limits.fiducial_noise_mm: 0.07")).findings
    assert "U1 of first-board may be 0.22 mm off" in finding.message
    assert "soic-8 allows 0.21 mm" in finding.message
    stricter = "shop.limits.fiducial_noise_mm: 0.04\n"
    stricter += "shop.limits.ipc_class: 3\nspindles.a.tip_eccentricity_mm: 0"
    assert [rule for rule, _ in found(stricter)] == ["fiducial-error-too-large"]
