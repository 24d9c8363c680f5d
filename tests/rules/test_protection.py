"""Nothing switches protection off unseen: a finding that an edit silences is named elsewhere."""

import pytest

from jobcheck.rules.base import Rule
from jobcheck.rules.registry import RULES
from jobcheck.schema.limits import STRICTER_WHEN_LARGER, Limits
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter

SILENCED = [rule for rule in RULES if not rule.is_upkeep or rule.compares]


def _good(rule: Rule):
    return starter().shop if rule.compares else None


@pytest.mark.parametrize("rule", SILENCED, ids=lambda rule: rule.name)
def test_a_disabled_rule_is_named_with_what_it_does_not_check(rule: Rule) -> None:
    edits = f"{rule.fails}\nshop.disabled.{rule.name}: it is known"
    outcome = linted(edited(edits), _good(rule))
    if rule.is_binding:
        assert {found.rule for found in outcome.open} == {rule.name, "silencing-faulty"}
    else:
        assert rule.name not in {found.rule for found in outcome.findings}
        assert outcome.disabled == ((rule.name, "it is known", rule.summary),)


@pytest.mark.parametrize("rule", SILENCED, ids=lambda rule: rule.name)
def test_an_accepted_finding_is_still_counted(rule: Rule) -> None:
    before = linted(edited(rule.fails), _good(rule)).open
    accepted = "".join(
        f'\nshop.accepted.{rule.name}."{_quoted(show(found.path))}": '
        "{because: known, until: 2027-03-01}"
        for found in before
    )
    outcome = linted(edited(rule.fails + accepted), _good(rule))
    if rule.is_binding:
        assert {found.rule for found in outcome.open} == {rule.name, "silencing-faulty"}
    else:
        assert not outcome.open
        assert [found.path for found in outcome.accepted] == [found.path for found in before]


def _quoted(path: str) -> str:
    return path.replace('"', '\\"')


@pytest.mark.parametrize("name", Limits.model_fields)
def test_a_limit_that_lets_more_pass_is_named_and_a_stricter_one_is_not(name: str) -> None:
    default = Limits.model_fields[name].default
    other = {True: default / 2, False: default * 1.01 + 1}
    values = {"larger": other[False], "smaller": other[True]}
    if name == "ipc_class":
        values = {"larger": 3, "smaller": 1}
    looser = "smaller" if name in STRICTER_WHEN_LARGER else "larger"
    for word, value in values.items():
        limits = Limits.model_construct(**{name: value})
        named = [loosened.limit for loosened in limits.loosened()]
        assert named == ([name] if word == looser and value != default else [])
