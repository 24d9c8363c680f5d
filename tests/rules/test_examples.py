"""Every rule is documented, and its two examples do what they say."""

import pytest

from jobcheck.rules.base import SECTIONS, Rule
from jobcheck.rules.registry import BY_NAME, RULES
from tests.edited import edited, linted, starter


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_failing_example_fails_by_this_rule_alone(rule: Rule) -> None:
    good = starter().shop if rule.compares else None
    findings = linted(edited(rule.fails), good).open
    assert {finding.rule for finding in findings} == {rule.name}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_passing_example_passes(rule: Rule) -> None:
    good = starter().shop if rule.compares else None
    assert linted(edited(rule.passes), good).open == ()


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_documentation_is_whole(rule: Rule) -> None:
    assert rule.summary.endswith(".")
    assert len(rule.summary) <= 90
    for title in SECTIONS:
        assert rule.section(title), f"{rule.name} has no section {title!r}"


def test_names_are_unique() -> None:
    assert len(BY_NAME) == len(RULES)


def test_starter_has_no_findings() -> None:
    assert linted(starter()).findings == ()
