"""Every planted fault is found by the rule that names its cause, and by no more than two rules."""

import pytest

from jobcheck.rules.registry import RULES
from tests.faults.catalogue import AREAS, planted
from tests.faults.clean import false_alarms
from tests.faults.shops import bases

LEAST = 150


@pytest.mark.parametrize("area", AREAS)
def test_each_fault_is_found_by_its_cause_and_little_else(area):
    wrong = [
        f"{entry.base.name}, {entry.fault.rule}, {entry.fault.words}: {entry.names}"
        for entry in planted(area)
        if not entry.is_right
    ]
    assert wrong == []


def test_shops_without_a_fault_have_no_finding():
    assert false_alarms(8) == []


@pytest.mark.long
def test_many_shops_without_a_fault_have_no_finding():
    assert false_alarms(200) == []


def test_there_are_faults_of_every_module_of_rules():
    assert sum(map(len, AREAS.values())) >= LEAST
    named = {fault.rule for faults in AREAS.values() for fault in faults}
    modules = {rule.check.__module__ for rule in RULES}
    assert {rule.check.__module__ for rule in RULES if rule.name in named} == modules


def test_faults_are_told_apart_by_their_words():
    for faults in AREAS.values():
        words = [(fault.rule, fault.words) for fault in faults]
        assert len(set(words)) == len(words)


def test_planting_leaves_the_clean_shop_alone():
    for base in bases():
        before = base.scene().plain
        scene = base.scene()
        scene.put("traverse_z", -29.0)
        assert base.scene().plain == before
