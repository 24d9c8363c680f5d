"""Nozzles: what they lift and where they are, at the edges of what is told of them."""

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words


def found(rule: str, edits: str, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


def test_a_tip_too_wide_for_several_outlines_is_one_finding_at_the_tip() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "nozzles.bore-0-4.tip_outer_mm: 1.3")
    assert show(finding.path) == "nozzles.bore-0-4.tip_outer_mm"
    assert finding.message.endswith("which is wider than chip-0603, chip-0805.")
    assert [show(path) for _, path in finding.related] == [
        "outlines.chip-0603.body_mm",
        "outlines.chip-0805.body_mm",
    ]


def test_a_tip_too_wide_for_one_outline_is_found_at_the_outlines_choice() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "outlines.chip-0603.nozzles: [bore-0-4, bore-1-0]")
    assert show(finding.path) == "outlines.chip-0603.nozzles.1"
    assert "bore-0-4 fits" in in_words(finding.remedy)


def test_a_tip_that_the_record_has_narrower_is_at_fault_itself() -> None:
    wider = "nozzles.bore-0-4.tip_outer_mm: 0.9"
    (finding,) = found("nozzle-tip-unsuitable", wider, good=starter().shop)
    assert show(finding.path) == "nozzles.bore-0-4.tip_outer_mm"
    assert finding.expected == "0.7"


def test_a_bore_that_the_body_does_not_cover_is_an_error() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "outlines.chip-0603.nozzles: [bore-1-0]")
    assert finding.level is Level.ERROR
    assert finding.consequence == "The nozzle cannot hold chip-0603: its bore stays open."


def test_a_bore_that_is_hardly_covered_is_a_warning() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "nozzles.bore-0-4.bore_mm: 0.65")
    assert finding.level is Level.WARNING
    assert "covered by less than 0.1 mm by chip-0603" in finding.message


def test_an_outer_diameter_alone_is_a_note() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "nozzles.bore-0-4.tip_outer_mm: 0.9")
    assert finding.level is Level.NOTE


def test_the_flat_counts_where_it_is_stated() -> None:
    (finding,) = found("nozzle-tip-unsuitable", "outlines.soic-8.flat_mm: [1.2, 3]")
    assert "flat_mm of soic-8 1.2" in finding.observed


def test_a_tip_as_wide_as_the_body_fits() -> None:
    assert not found("nozzle-tip-unsuitable", "nozzles.bore-0-4.tip_outer_mm: 0.8")


def test_an_outline_without_nozzle_is_told_which_would_fit() -> None:
    (finding,) = found("nozzle-missing", "outlines.chip-0603.nozzles: []")
    assert in_words(finding.remedy) == "Name one; the tip of bore-0-4 fits."
    assert finding.observed == "none; needed by R1, R2, R3 of first-board"


def test_without_a_run_or_described_nozzles_it_is_not_checked() -> None:
    for more in ("jobs.first-board.run: ~", "nozzles: {}\nrack: {}\nspindles.a.carries: ~"):
        outcome = linted(edited(f"outlines.chip-0603.nozzles: []\n{more}"))
        assert "nozzle-missing" not in {finding.rule for finding in outcome.findings}
        (unchecked,) = [said for said in outcome.not_checked if said.rule == "nozzle-missing"]
        assert unchecked.cause == "no nozzles on chip-0603"


def test_an_outline_that_nothing_needs_may_be_without_nozzle() -> None:
    spare = "outlines.spare: {body_mm: [9, 9], height_mm: 1, terminals: 2, polarised: false}\n"
    assert not found("nozzle-missing", spare + "parts.spare: {outline: spare}")


def test_a_nozzle_that_is_not_described_is_not_called_missing_or_away() -> None:
    edits = "nozzles.bore-1-0: ~"
    rules = {finding.rule for finding in linted(edited(edits)).findings}
    assert rules == {"name-unknown"}


def test_outlines_that_need_one_absent_nozzle_are_one_finding() -> None:
    (finding,) = found("nozzle-place-wrong", "rack.p2: ~")
    assert finding.message.startswith("bore-1-0 is not in the rack and not on a spindle; ")
    assert finding.observed.endswith("needed by D1, D2, U1 of first-board")


def test_a_machine_without_a_rack_changes_nozzles_by_hand() -> None:
    assert linted(edited("rack: ~")).findings == ()


def test_a_misspelled_nozzle_in_the_rack_is_one_finding() -> None:
    rules = {finding.rule for finding in linted(edited("rack.p2.nozzle: bore-10")).findings}
    assert rules == {"name-unknown"}


def test_two_spindles_that_start_with_one_nozzle_are_found() -> None:
    second = "spindles.b: {offset_from_camera: {x: 31, y: 4}, carries: bore-0-4}"
    (finding,) = found("nozzle-place-wrong", second)
    assert finding.message == "nozzle bore-0-4 is at the start on spindles a and b."
    assert show(finding.path) == "spindles.b.carries"
    assert finding.level is Level.WARNING  # there may be two of a kind under one name


def test_places_that_are_copied_coincide_even_without_nozzles() -> None:
    edits = "rack.p3: {x: 300, y: 40, z: -25}\nrack.p4: {x: 300, y: 40, z: -25}"
    (finding,) = found("fixtures-overlap", edits)
    assert show(finding.path) == "rack.p4"


def test_places_as_far_apart_as_their_tips_need_do_not_coincide() -> None:
    assert not found("fixtures-overlap", "rack.p2.x: 301.05")
    assert found("fixtures-overlap", "rack.p2.x: 301.04")
