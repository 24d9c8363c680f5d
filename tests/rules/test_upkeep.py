"""Accepted findings, disabled rules and widened limits, and what is said of them."""

from datetime import date

import pytest

from jobcheck.commands.lint import chosen_rules
from jobcheck.findings import CallRefused, Finding, Level
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import RULES
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.schema.limits import STRICTER_WHEN_LARGER, Limits
from jobcheck.shop.paths import show
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import TODAY, edited, linted, starter
from tests.support.remedies import in_words

SPARE = "nozzles.bore-2-2: {tip_outer_mm: 3.5, bore_mm: 2.2}\n"
ACCEPTED = "shop.accepted.entries-unused.nozzles: {because: a spare, until: 2027-03-01}\n"


def of(rule: str, outcome: Outcome) -> list[Finding]:
    return [finding for finding in outcome.findings if finding.rule == rule]


def run_only(edits: str, *names: str) -> Outcome:
    reading = edited(edits)
    assert reading.shop
    rules = [rule for rule in RULES if rule.name in names]
    return run_rules(Inspection(reading.shop, TODAY), rules, reading.places.of)


def test_one_that_ran_out_still_suppresses_and_is_told_as_a_warning() -> None:
    outcome = linted(edited(SPARE + ACCEPTED), today=date(2027, 3, 2))
    (finding,) = outcome.open
    assert (finding.rule, finding.level) == ("acceptance-outdated", Level.WARNING)
    assert finding.message == "the acceptance of entries-unused at nozzles expired on 2027-03-01."
    assert [accepted.rule for accepted in outcome.accepted] == ["entries-unused"]


def test_acceptances_that_end_on_one_day_are_one_finding() -> None:
    spares = SPARE + "parts.spare: {outline: soic-8}\n" + ACCEPTED
    spares += "shop.accepted.entries-unused.parts: {because: a spare, until: 2027-03-01}\n"
    (finding,) = linted(edited(spares), today=date(2027, 3, 1)).open
    assert finding.message == "2 acceptances expired on 2027-03-01: entries-unused (2)."
    assert len(finding.related) == 1


def test_one_that_ran_out_and_matches_nothing_is_only_unused() -> None:
    outcome = linted(edited(ACCEPTED), today=date(2027, 3, 2))
    assert [finding.rule for finding in outcome.open] == ["acceptance-outdated"]


def test_an_acceptance_above_a_finding_covers_it_and_one_beside_it_does_not() -> None:
    above = (
        'shop.accepted.entries-unused."nozzles.bore-2-2": {because: a spare, until: 2027-03-01}\n'
    )
    assert not linted(edited(SPARE + above)).open
    beside = 'shop.accepted.entries-unused."nozzles.bore-2": {because: a spare}\n'
    rules = [finding.rule for finding in linted(edited(SPARE + beside)).open]
    assert sorted(rules) == ["acceptance-outdated", "entries-unused"]


def test_unused_acceptances_of_one_rule_are_one_note() -> None:
    unused = "".join(
        f"shop.accepted.feeder-slot-wrong.feeders-{n}: {{because: so it is}}\n" for n in range(40)
    )
    (finding,) = linted(edited(unused)).open
    assert "and 37 more, but finds nothing there" in finding.message
    assert finding.observed == "feeder-slot-wrong finds 0 faults in the whole shop"
    assert len(finding.related) == 3


def test_an_acceptance_of_a_rule_that_did_not_run_is_not_called_unused() -> None:
    assert not run_only(ACCEPTED, "acceptance-outdated", "feeder-slot-wrong").findings
    assert run_only(ACCEPTED, "acceptance-outdated", "entries-unused").findings
    disabled = ACCEPTED + "shop.disabled.entries-unused: a drawer of spares\n"
    assert not linted(edited(disabled)).findings


def test_an_acceptance_is_used_where_its_finding_is_told_inside_another() -> None:
    edits = "parts.10k-0603.outline: chip-063\n"
    edits += "shop.accepted.entries-unused.outlines: {because: spares, until: 2027-03-01}\n"
    outcome = linted(edited(edits))
    assert not of("acceptance-outdated", outcome)
    assert not of("entries-unused", outcome)


def test_nothing_is_called_unused_while_a_file_is_not_understood() -> None:
    reading = edited(ACCEPTED)
    files = {**dict(reading.state.files), "placer.yaml": b"describes: ["}
    damaged = read_shop(State("damaged", HeldFiles(files), "damaged"))
    assert damaged.faults
    assert not of("acceptance-outdated", linted(damaged))


def test_an_acceptance_whose_path_is_no_path_is_unused() -> None:
    odd = 'shop.accepted.entries-unused."nozzles..": {because: a slip}\n'
    assert of("acceptance-outdated", linted(edited(odd)))


def test_a_reason_is_missed_where_it_should_stand() -> None:
    accepted = SPARE + "shop.accepted.entries-unused.nozzles: {until: 2027-03-01}\n"
    (finding,) = linted(edited(accepted)).open
    assert show(finding.path) == "shop.accepted.entries-unused.nozzles.because"
    assert finding.message == "entries-unused is accepted at nozzles without a reason."


def test_a_name_that_is_no_rule_is_told_with_the_one_meant_and_not_called_unused() -> None:
    accepted = "shop.accepted.entry-unused.nozzles: {because: a spare}\n"
    (finding,) = linted(edited(accepted)).open
    assert finding.rule == "silencing-faulty"
    assert in_words(finding.remedy) == "Did you mean entries-unused?"


def test_a_fault_of_a_file_cannot_be_accepted() -> None:
    accepted = "shop.accepted.key-unknown.feeders: {because: a slip}\n"
    (finding,) = linted(edited(accepted)).open
    assert finding.message == "key-unknown is a fault of a file; it cannot be accepted."


def test_an_acceptance_without_an_end_is_found_where_it_is_used() -> None:
    endless = SPARE + "shop.accepted.entries-unused.nozzles: {because: a spare}\n"
    (finding,) = linted(edited(endless)).open
    assert finding.rule == "acceptance-outdated"
    assert finding.expected == "2027-11-26 at the latest"


@pytest.mark.parametrize("block", ["accepted.X.cameras: {because: yes}", "disabled.X: a reason"])
def test_lost_camera_settings_can_be_neither_accepted_nor_disabled(block: str) -> None:
    lost = "cameras.up.controls.gain: ~\n"
    silenced = lost + "shop." + block.replace("X", "camera-settings-lost") + "\n"
    good = starter().shop
    outcome = linted(edited(silenced), good)
    names = {found.rule for found in outcome.open}
    assert names == {"silencing-faulty", "camera-settings-lost"}
    assert not outcome.disabled


@pytest.mark.parametrize("block", ["accepted.X.nozzles: {because: so}", "disabled.X: a reason"])
def test_an_old_name_is_answered_with_the_new_one(block: str) -> None:
    (finding,) = linted(edited("shop." + block.replace("X", "copies-apart"))).open
    assert finding.message == "rule copies-apart is now copied-value-differs."
    assert in_words(finding.remedy) == "Write copied-value-differs instead."
    with pytest.raises(CallRefused, match="Rule copies-apart is now copied-value-differs"):
        chosen_rules(["copies-apart"], ())


def test_a_disabled_rule_and_a_looser_limit_are_named() -> None:
    outcome = linted(
        edited("shop.disabled.entries-unused: a drawer\nshop.limits.body_clearance_mm: 0.1")
    )
    (disabled,) = outcome.disabled
    assert disabled[:2] == ("entries-unused", "a drawer")
    assert (
        disabled.not_checked == "An outline, recognition, part or nozzle is not named by anything."
    )
    assert outcome.loosened == (("body_clearance_mm", 0.1, 0.2),)
    assert not linted(edited("shop.limits.body_clearance_mm: 0.25")).loosened
    assert linted(edited("shop.limits.mark_error_mm: 0.11")).loosened
    assert not linted(edited("shop.limits.mark_error_mm: 0.09")).loosened


def test_every_limit_that_is_stricter_when_larger_is_a_limit() -> None:
    assert set(Limits.model_fields) >= STRICTER_WHEN_LARGER


def test_the_starter_accepts_nothing() -> None:
    assert not linted(starter()).accepted
