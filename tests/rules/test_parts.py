"""Parts and outlines, at the edges of what is told of them."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

PLACED_SPARE = "parts.spare: {outline: soic-8}\nfeeders.f04: {part: spare, carrier: stick}\n"


def found(rule: str, edits: str, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


# heights


def test_a_missing_height_names_the_known_good_one_and_what_needs_it() -> None:
    (finding,) = found("height-unknown", "outlines.soic-8.height_mm: ~", good=starter().shop)
    assert finding.expected == "1.75"
    assert finding.observed == "missing; needed by U1 of first-board"
    assert finding.consequence == "The nozzle may press 1.75 mm too deep."
    assert (
        in_words(finding.remedy)
        == "Put the recorded height back: jobcheck restore outlines.soic-8.height_mm"
    )


def test_without_a_record_a_missing_height_is_called_unknown() -> None:
    (finding,) = found("height-unknown", "outlines.soic-8.height_mm: ~")
    assert finding.expected == ""
    assert "by the whole height of the part" in finding.consequence


def test_many_parts_of_one_outline_without_height_are_one_finding() -> None:
    edits = "outlines.chip-0603.height_mm: ~\nparts.22k-0603: {outline: chip-0603}\n"
    edits += "".join(
        f"jobs.first-board.placements.R{n}: {{part: 22k-0603, x: {n}, y: 27}}\n"
        for n in range(10, 16)
    )
    (finding,) = found("height-unknown", edits)
    assert show(finding.path) == "outlines.chip-0603.height_mm"
    assert "needed by 2 parts, 9 of 14 placements a board of first-board" in finding.observed


def test_a_height_that_the_part_had_of_its_own_is_missed_at_the_part() -> None:
    own = "outlines.soic-8.height_mm: ~\nparts.timer-soic8.height_mm: 1.5\n"
    good = edited(own).shop
    (finding,) = found("height-unknown", "outlines.soic-8.height_mm: ~", good=good)
    assert show(finding.path) == "parts.timer-soic8.height_mm"
    assert finding.consequence == "The nozzle may press 1.5 mm too deep."


def test_a_height_that_only_a_feeder_needs_is_not_missed() -> None:
    tall = "outlines.tall: {body_mm: [9, 9], terminals: 4, polarised: false, nozzles: [bore-1-0]}\n"
    outcome = linted(edited(tall + PLACED_SPARE.replace("soic-8", "tall")))
    assert "height-unknown" not in {finding.rule for finding in outcome.findings}
    assert "height-unknown" not in {said.rule for said in outcome.not_checked}


def test_without_a_run_a_height_is_not_checked_unless_it_was_recorded() -> None:
    edits = "outlines.soic-8.height_mm: ~\njobs.first-board.run: ~"
    outcome = linted(edited(edits))
    assert "height-unknown" not in {finding.rule for finding in outcome.findings}
    (unchecked,) = [said for said in outcome.not_checked if said.rule == "height-unknown"]
    assert unchecked.cause == "no height_mm on soic-8"
    assert unchecked.paths == (("outlines", "soic-8", "height_mm"),)
    (finding,) = found("height-unknown", edits, good=starter().shop)
    assert finding.level is Level.WARNING


def test_a_height_that_nothing_needs_is_not_missed() -> None:
    spare = "outlines.tall: {body_mm: [9, 9], terminals: 4, polarised: false}\n"
    assert not found("height-unknown", spare + "parts.spare: {outline: tall}\n")


def test_a_height_of_an_outline_that_is_not_described_is_not_missed() -> None:
    assert not found("height-unknown", "outlines.soic-8: ~")


def test_a_zero_height_is_not_called_missing_or_implausible() -> None:
    rules = {f.rule for f in linted(edited("parts.timer-soic8.height_mm: 0")).findings}
    assert rules == {"height-unknown"}


@pytest.mark.parametrize(
    ("edits", "word"),
    [
        ("outlines.chip-0603.height_mm: 4.5", "a slipped decimal point"),
        ("outlines.soic-8.height_mm: 0.069", "a value in inches"),
        ("outlines.soic-8.height_mm: 69", "a value in mil"),
        ("outlines.chip-0805.height_mm: 1250", "a value in um"),
    ],
)
def test_an_implausible_height_says_what_would_fit(edits: str, word: str) -> None:
    (finding,) = found("height-or-mass-implausible", edits)
    assert word in in_words(finding.remedy)


def test_an_implausible_height_of_a_part_is_judged_by_its_outline() -> None:
    (finding,) = found("height-or-mass-implausible", "parts.diode-sod123.height_mm: 0.5")
    assert show(finding.path) == "parts.diode-sod123.height_mm"
    assert finding.consequence == (
        "If it is such a case, the nozzle would press at least 0.35 mm too deep."
    )


def test_a_connector_that_is_named_like_a_diode_is_not_judged_as_one() -> None:
    edge = "{body_mm: [6, 9], height_mm: 6, terminals: 5, polarised: false}"
    outcome = linted(edited(f"outlines.sma-edge: {edge}"))
    assert {finding.rule for finding in outcome.findings} == {"entries-unused"}


@pytest.mark.parametrize("height", ["0.31", "0.99"])
def test_thin_resistors_and_thick_capacitors_are_both_plausible(height: str) -> None:
    assert not found("height-or-mass-implausible", f"outlines.chip-0603.height_mm: {height}")


def test_the_slack_around_usual_heights_is_a_limit() -> None:
    thick = "outlines.chip-0603.height_mm: 0.99"
    assert found("height-or-mass-implausible", thick + "\nshop.limits.height_slack_percent: 0")


# mass and press


@pytest.mark.parametrize(("mass", "fits"), [("500", ""), ("5", ""), ("0.075", "75 mg would fit")])
def test_a_mass_that_no_material_has_is_found(mass: str, fits: str) -> None:
    (finding,) = found("height-or-mass-implausible", f"outlines.soic-8.mass_mg: {mass}")
    assert finding.observed.endswith("usual 0.2 to 12 mg/mm³")
    assert fits in in_words(finding.remedy)


def test_a_mass_that_falls_off_is_told_once() -> None:
    outcome = linted(edited("outlines.soic-8.mass_mg: 75000"))
    assert [(f.rule, f.level) for f in outcome.findings] == [
        ("part-too-heavy-for-nozzle", Level.ERROR)
    ]


def test_a_mass_without_height_is_not_judged() -> None:
    assert not found(
        "height-or-mass-implausible", "outlines.soic-8.mass_mg: 900\noutlines.soic-8.height_mm: ~"
    )


def test_a_press_as_deep_as_the_part_is_an_error() -> None:
    (finding,) = found("press-too-deep", "outlines.soic-8.press_mm: 3")
    assert finding.level is Level.ERROR
    assert finding.consequence == "The tip would go 1.25 mm below the board's surface."
    (finding,) = found("press-too-deep", "outlines.soic-8.press_mm: 0.5")
    assert finding.level is Level.WARNING
    assert "If the tip is not sprung" in finding.consequence


def test_a_press_is_judged_by_the_paste_of_a_run() -> None:
    edits = "jobs.first-board.run.paste_um: 100\noutlines.soic-8.press_mm: "
    assert not found("press-too-deep", f"{edits}0.2")
    (finding,) = found("press-too-deep", f"{edits}0.21")
    assert finding.message == (
        "press_mm 0.21 of soic-8 is more than the 0.2 mm that paste and tip allow."
    )


def test_a_press_is_judged_by_the_lowest_part_of_an_outline() -> None:
    edits = "outlines.soic-8.press_mm: 0.3\nparts.timer-soic8.height_mm: 0.3"
    (finding,) = found("press-too-deep", edits)
    assert finding.level is Level.ERROR


# sizes of one outline


@pytest.mark.parametrize(
    ("edits", "message"),
    [
        ("soic-8.terminal_mm: 5", "terminal_mm 5 of soic-8 contradicts body_mm 4.9."),
        ("soic-8.flat_mm: [39, 4]", "flat_mm 39 of soic-8 contradicts body_mm 3.9."),
        (
            "soic-8.over_terminals_mm: [3.5, 4.9]",
            "over_terminals_mm 3.5 of soic-8 contradicts body_mm 3.9.",
        ),
    ],
)
def test_a_part_of_an_outline_is_not_larger_than_the_outline(edits: str, message: str) -> None:
    (finding,) = found("outline-sizes-contradict", f"outlines.{edits}")
    assert finding.level is Level.ERROR
    assert finding.message == message


def test_a_number_of_terminals_is_compared_with_the_name() -> None:
    (finding,) = found("outline-sizes-contradict", "outlines.soic-8.terminals: 80")
    assert finding.level is Level.WARNING
    assert finding.message == "soic-8 has 80 terminals; its name says 8 or 9."
    assert found("outline-sizes-contradict", "outlines.sod-123.terminals: 20")
    assert not found("outline-sizes-contradict", "outlines.soic-8.terminals: 9")


# chip codes


def test_a_metric_code_in_the_name_of_an_inch_outline_is_a_mix_up() -> None:
    (finding,) = found("outline-sizes-contradict", "outlines.chip-0603.body_mm: [0.6, 0.3]")
    assert finding.message == (
        "outline chip-0603 is 0.6 × 0.3 mm, but 0603 in inches is 1.6 × 0.8 mm."
    )
    assert finding.observed == "0.6 × 0.3 mm, which is 0603 in metric"
    assert "case_system: metric" in in_words(finding.remedy)


def test_a_metric_code_that_says_so_is_none() -> None:
    metric = "outlines.chip-0603.body_mm: [0.6, 0.3]\noutlines.chip-0603.case_system: metric\n"
    assert not found("outline-sizes-contradict", metric + "parts.10k-0603.outline: chip-0603")


def test_a_body_in_inches_is_found() -> None:
    (finding,) = found("outline-sizes-contradict", "outlines.chip-0805.body_mm: [0.08, 0.05]")
    assert show(finding.path) == "outlines.chip-0805.body_mm"


def test_a_part_whose_code_is_not_its_outlines_is_found_once() -> None:
    (finding,) = found("outline-sizes-contradict", "parts.10k-0402: {outline: chip-0603}")
    assert show(finding.path) == "parts.10k-0402.outline"
    wrong_body = "outlines.chip-0603.body_mm: [1.0, 0.5]"
    assert len(found("outline-sizes-contradict", wrong_body)) == 1


@pytest.mark.parametrize(
    ("name", "body", "terminals"),
    [
        ("chip-1608", "[1.6, 0.8]", 2),
        ("coil-2512", "[2.5, 1.2]", 2),
        ("chip-3216-0603", "[1.6, 0.8]", 2),
        ("xtal-3225", "[3.2, 2.5]", 4),
        ("array-0603", "[3.2, 1.6]", 8),
        ("led-1210", "[3.5, 2.8]", 2),
        ("can-6x5", "[6.6, 6.6]", 2),
    ],
)
def test_names_that_only_resemble_another_size_are_left_alone(
    name: str, body: str, terminals: int
) -> None:
    outline = f"{{body_mm: {body}, height_mm: 0.8, terminals: {terminals}, polarised: false}}"
    assert not found("outline-sizes-contradict", f"outlines.{name}: {outline}")


def test_a_stock_number_is_no_code() -> None:
    assert not found("outline-sizes-contradict", "parts.c1608-can: {outline: chip-0805}")
    assert found("outline-sizes-contradict", "parts.can-1608: {outline: chip-0805}")


def test_a_case_that_is_stated_comes_before_the_name() -> None:
    assert not found(
        "outline-sizes-contradict",
        'outlines.chip-0805.case: "0603"\noutlines.chip-0805.body_mm: [1.6, 0.8]\n'
        "parts.100n-0805: ~\nparts.100n: {outline: chip-0805}",
    )


# pin 1


def test_an_outline_that_says_nothing_of_pin_1_is_one_finding() -> None:
    edits = "outlines.sod-123.pin1_at_zero: ~\noutlines.sod-123.pin1_means: ~"
    (finding,) = found("pin1-missing", edits)
    assert finding.message == (
        "polarised outline sod-123 does not say where pin 1 is nor what pin 1 is."
    )
    assert [show(path) for _, path in finding.related] == ["outlines.sod-123.pin1_means"]
    assert finding.observed.endswith("needed by D1, D2 of first-board")
