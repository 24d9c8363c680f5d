"""`jobcheck capability` on the example."""

import json

import pytest

from jobcheck.commands.capability import capability_of
from jobcheck.findings import CallRefused
from jobcheck.reports.text.capability import capability_data, capability_text
from jobcheck.trade.capability import Share, capability

MEASURED = "\nrepeatability: {x_mm: 0.03, y_mm: 0.02, samples: 400, measured: 2026-11-20}\n"
DRIFT = "drift: {x_mm: 0.2, period_s: 190, measured: 2026-11-20}\n"


def _describe(root, text):
    machine = root / "placer.yaml"
    machine.write_text(machine.read_text() + text)


def test_shares_are_those_described(root):
    _describe(root, MEASURED + DRIFT)
    found = capability_of(root, "soil-logger")
    worst = found.budgets[0]
    shares = {share.cause: share for share in worst.shares}
    assert shares["repeatability"].mm == 0.03
    assert shares["cyclic drift"].mm == pytest.approx(0.2 / 2**1.5)
    assert worst.cpk == pytest.approx(capability(worst.allowed, worst.shares))
    assert [b.cpk for b in found.budgets] == sorted(b.cpk for b in found.budgets)


def test_the_best_gain_is_the_best_of_all(root):
    _describe(root, MEASURED + DRIFT)
    for budget in capability_of(root, "soil-logger").budgets:
        assert budget.best_gain is not None
        share, cpk = budget.best_gain
        without = [
            capability(budget.allowed, [s for s in budget.shares if s is not one])
            for one in budget.shares
        ]
        assert cpk == max(without)
        assert share in budget.shares


def test_a_finer_machine_places_smaller_chips(root):
    _describe(root, MEASURED)
    coarse = capability_of(root, "soil-logger").smallest
    text = (root / "placer.yaml").read_text().replace("x_mm: 0.03, y_mm: 0.02", "x_mm: 0.002")
    (root / "placer.yaml").write_text(text)
    fine = capability_of(root, "soil-logger").smallest
    assert (coarse, fine) == ("0402", "0201")


def test_report_and_data(root):
    _describe(root, MEASURED + DRIFT)
    found = capability_of(root, "soil-logger")
    text = capability_text(found)
    assert all(len(line) <= 80 for line in text)
    assert any("An estimate" in line and "400" in line for line in text)
    data = json.loads(json.dumps(capability_data(found)))
    assert len(data["outlines"]) == len(found.budgets)


def test_without_repeatability_it_says_how_to_get_it(root):
    with pytest.raises(CallRefused, match="repeatability is not described") as refused:
        capability_of(root, "soil-logger")
    assert refused.value.remedy[0].arguments == ("repeatability", "LOG", "--write")
    with pytest.raises(CallRefused, match="Job nothing does not exist"):
        capability_of(root, "nothing")


def test_a_bias_share_is_counted_once():
    assert capability(0.1, [Share("x", 0.05, True), Share("y", 0.01)]) == pytest.approx(0.05 / 0.03)
