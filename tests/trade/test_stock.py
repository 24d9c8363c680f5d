"""Parts needed, and the panel on which they run out."""

import pytest

from jobcheck.trade.stock import need, panel_short


@pytest.mark.parametrize(
    ("placed", "percent", "spare", "total"),
    [
        (0, 2, 5, 0),
        (10, 2, 5, 15),
        (100, 7, 0, 107),
        (101, 7, 0, 109),
        (1000, 2, 5, 1020),
        (3000, 1.1, 5, 3033),
        (1, 0, 0, 1),
    ],
)
def test_need(placed, percent, spare, total):
    assert need(placed, percent, spare) == total


@pytest.mark.parametrize("remaining", [0, 17, 18, 100, 143, 144, 145, 149, 5000])
@pytest.mark.parametrize(("per_panel", "panels"), [(12, 12), (1, 3), (0, 4), (12, 0)])
def test_the_short_panel_is_the_first_whose_need_is_not_met(remaining, per_panel, panels):
    met = [need(per_panel * panel, 2, 5) <= remaining for panel in range(1, panels + 1)]
    expected = None if all(met) else met.index(False) + 1
    assert panel_short(remaining, per_panel, panels, 2, 5) == expected
