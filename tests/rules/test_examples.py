"""The two examples of every rule do what they say."""

import pytest

from jobcheck.rules.base import Rule
from jobcheck.rules.registry import RULES
from tests.support.edited import edited, linted, starter


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_failing_example_fails_by_this_rule_alone(rule: Rule) -> None:
    good = starter().shop if rule.compares else None
    findings = linted(edited(rule.fails), good).open
    assert {finding.rule for finding in findings} == {rule.name}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_passing_example_passes(rule: Rule) -> None:
    good = starter().shop if rule.compares else None
    assert linted(edited(rule.passes), good).open == ()


def test_starter_has_no_findings() -> None:
    assert linted(starter()).findings == ()
