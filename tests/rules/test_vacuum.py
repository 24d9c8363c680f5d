"""What nozzles hold, at the edges of what is told of it."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted
from tests.support.remedies import in_words


def found(rule: str, edits: str) -> list[Finding]:
    return [f for f in linted(edited(edits)).findings if f.rule == rule]


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


HEAVY = "part-too-heavy-for-nozzle"
PRESSURES = "nozzle-pressures-contradict"


def test_the_estimate_says_what_it_assumed() -> None:
    """31.4 mN are 40 kPa on a bore of 1 mm; 1250 mg × (9.81 + 1.5 / 0.5) × 2 are 32 mN."""
    (finding,) = found(HEAVY, "outlines.soic-8.mass_mg: 1250")
    assert finding.level is Level.WARNING
    assert finding.message == (
        "timer-soic8 needs 32 mN moving at 1500 mm/s²; nozzle bore-1-0 holds 31.4 mN."
    )
    assert finding.observed.startswith(
        "estimate with safety 2, friction 0.5; mass 1250 mg; bore 1 mm at -40 kPa"
    )


def test_a_mass_that_is_not_given_is_that_of_a_full_block() -> None:
    tall = "outlines.soic-8.mass_mg: ~\noutlines.soic-8.height_mm: "
    assert not found(HEAVY, tall + "1.75")
    (finding,) = found(HEAVY, tall + "11")
    assert show(finding.path) == "outlines.soic-8.mass_mg"
    assert "1282.3 mg as a full block" in finding.observed


def test_without_mass_and_height_nothing_is_reckoned() -> None:
    assert not found(HEAVY, "outlines.soic-8.mass_mg: ~\noutlines.soic-8.height_mm: ~")


def test_only_a_known_mass_falls_for_certain() -> None:
    """60 kPa of the pump on a bore of 1 mm are 47.1 mN; they carry 4805 mg without any safety."""
    (finding,) = found(HEAVY, "outlines.soic-8.mass_mg: 4850")
    assert finding.level is Level.ERROR
    assert finding.consequence == "The part would fall off the tip."
    (finding,) = found(HEAVY, "outlines.soic-8.mass_mg: 4750")
    assert finding.level is Level.WARNING
    block = "outlines.soic-8.mass_mg: ~\noutlines.soic-8.height_mm: 40\ntraverse_z: 0"
    (finding,) = found(HEAVY, block)
    assert finding.level is Level.WARNING


def test_a_part_of_its_own_mass_stands_for_its_outline() -> None:
    (finding,) = found(HEAVY, "parts.timer-soic8.mass_mg: 1250")
    assert show(finding.path) == "parts.timer-soic8.mass_mg"


def test_the_hardest_move_counts() -> None:
    (finding,) = found(HEAVY, "motion.rotation_deg_s2: 900000\noutlines.soic-8.mass_mg: 600")
    assert "turning at 900000 deg/s²" in finding.message
    (finding,) = found(HEAVY, "motion.z_mm_s2: 250000")
    assert "lifting at 250000 mm/s²" in finding.message


def test_one_cause_for_many_parts_is_one_finding() -> None:
    (finding,) = found(HEAVY, "motion.xy_mm_s2: 400000")
    assert show(finding.path) == "motion"
    assert finding.message.endswith("; 1 other part is too heavy as well.")
    (finding,) = found(HEAVY, "nozzles.bore-1-0.held_kpa: -0.2\nnozzles.bore-1-0.empty_kpa: ~")
    assert show(finding.path) == "nozzles.bore-1-0.held_kpa"


def test_another_nozzle_that_holds_it_is_named() -> None:
    edits = "outlines.soic-8.mass_mg: 300\noutlines.soic-8.nozzles: [bore-0-4]"
    (finding,) = found(HEAVY, edits)
    assert (
        in_words(finding.remedy)
        == "Take a wider bore: bore-1-0 holds 31.4 mN; or correct the mass."
    )


def test_without_motion_only_the_weight_is_known() -> None:
    assert not found(HEAVY, "motion: ~\noutlines.soic-8.mass_mg: 1250")
    (finding,) = found(HEAVY, "motion: ~\noutlines.soic-8.mass_mg: 1700")
    assert "hanging still" in finding.message


def test_safety_and_friction_are_the_shops() -> None:
    assert not found(HEAVY, "outlines.soic-8.mass_mg: 1250\nshop.limits: {holding_safety: 1.5}")
    slippery = "outlines.soic-8.mass_mg: 1000\nshop.limits: {holding_friction: 0.2}"
    assert found(HEAVY, slippery)


@pytest.mark.parametrize("unknown", ["nozzles.bore-1-0.held_kpa: ~", "nozzles.bore-1-0: ~"])
def test_what_a_nozzle_holds_may_be_unknown(unknown: str) -> None:
    assert not found(HEAVY, f"outlines.soic-8.mass_mg: 1250\n{unknown}")


def test_without_a_pump_no_vacuum_is_deeper_than_an_empty_space() -> None:
    """101.3 kPa on a bore of 1 mm are 79.6 mN; they carry 8115 mg."""
    assert found(HEAVY, "vacuum: ~\noutlines.soic-8.mass_mg: 8000")[0].level is Level.WARNING
    assert found(HEAVY, "vacuum: ~\noutlines.soic-8.mass_mg: 8200")[0].level is Level.ERROR


@pytest.mark.parametrize(
    ("edits", "cause"),
    [
        ("nozzles.bore-1-0.held_kpa: ~", "no held_kpa on bore-1-0"),
        ("nozzles.bore-0-4.empty_kpa: ~", "no empty_kpa on bore-0-4"),
        ("vacuum: ~", "no pump_kpa on vacuum"),
        ("motion: ~", "no motion"),
        ("outlines.soic-8.mass_mg: ~", "no mass_mg on soic-8"),
    ],
)
def test_what_could_not_be_checked_is_said(edits: str, cause: str) -> None:
    assert cause in {said.cause for said in linted(edited(edits)).not_checked}


def test_each_nozzle_of_an_outline_must_hold_it() -> None:
    edits = "outlines.soic-8.mass_mg: 240\noutlines.soic-8.nozzles: [bore-1-0, bore-0-4]"
    (finding,) = found(HEAVY, edits)
    assert "; nozzle bore-0-4 holds 5.7 mN" in finding.message


# thresholds


def test_exchanged_thresholds_are_an_error() -> None:
    (finding,) = found(
        PRESSURES,
        "nozzles.bore-0-4.empty_kpa: -45\nnozzles.bore-0-4.held_kpa: -30",
    )
    assert finding.level is Level.ERROR
    assert finding.message == "nozzle bore-0-4: held_kpa -30 is not deeper than empty_kpa -45."


def test_one_threshold_alone_is_not_compared() -> None:
    assert rules("nozzles.bore-0-4.empty_kpa: ~\nnozzles.bore-1-0.held_kpa: ~") == []


def test_a_weak_pump_is_one_finding_for_all_nozzles() -> None:
    (finding,) = found(PRESSURES, "vacuum.pump_kpa: -40")
    assert finding.level is Level.ERROR
    assert show(finding.path) == "vacuum.pump_kpa"
    (finding,) = found(PRESSURES, "nozzles.bore-0-4.held_kpa: -58")
    assert finding.level is Level.WARNING
    assert show(finding.path) == "nozzles.bore-0-4.held_kpa"
    assert rules("vacuum: ~\nnozzles.bore-0-4.held_kpa: -90") == []


def test_millibar_are_told_once() -> None:
    assert rules("nozzles.bore-0-4.held_kpa: -450") == [PRESSURES]
    everything = """
        nozzles.bore-0-4: {tip_outer_mm: 0.7, bore_mm: 0.4, empty_kpa: -300, held_kpa: -450}
        vacuum.pump_kpa: -600
    """
    (finding,) = linted(edited(everything)).findings
    assert "and 2 more are deeper" in finding.message
    assert in_words(finding.remedy) == "Write it in kPa: -600 mbar is -60 kPa."
