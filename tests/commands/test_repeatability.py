"""`jobcheck repeatability` on simulated machines, and on damaged logs."""

from __future__ import annotations

import importlib.util
import io
import json
import math
import subprocess
import sys
from datetime import date
from pathlib import Path as FilePath

import numpy as np
import pytest

from jobcheck.cli.main import main
from jobcheck.commands.repeatability import repeatability, with_summary
from jobcheck.findings import CallRefused
from jobcheck.reports.calls import Call
from jobcheck.reports.pages.repeatability import repeatability_svg
from jobcheck.reports.text.repeatability import repeatability_data, repeatability_text
from jobcheck.sources.measurements import read_measurements
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from jobcheck.trade.cycles import find_cycle
from tests.golden.play import EXAMPLES


class Machine:
    """A simulated machine: bias, reversal, cycle, noise, uneven times, a gap and outliers; mm."""

    def __init__(self, seed, *, cycle=0.2, period=190.0, rows=120, noise=0.012, fading=0.0):
        self.random = np.random.default_rng(seed)
        steps = self.random.uniform(5, 15, rows)
        steps[rows // 3] += 900
        self.time = np.cumsum(steps)
        self.side = self.random.choice([1, -1], rows)
        kept = np.zeros(rows)
        for at in range(1, rows):
            kept[at] = fading * kept[at - 1] + self.random.standard_normal()
        self.drift = cycle / 2 * np.cos(2 * np.pi * self.time / period)
        self.x = 120.03 + self.drift + noise * kept + 0.01 * self.side
        self.y = 80.0 + 0.01 * self.random.standard_normal(rows)

    def log(self, folder, name="log.csv", *, wrong=()):
        x = self.x.copy()
        x[list(wrong)] += 0.9
        rows = zip(self.time, x, self.y, self.side, strict=True)
        lines = ["time_s,x_mm,y_mm,command_x_mm,command_y_mm,approach_x"]
        lines += [f"{t:.2f},{x:.5f},{y:.5f},120,80,{'+' if s > 0 else '-'}" for t, x, y, s in rows]
        path = folder / name
        path.write_text("\n".join(lines) + "\n")
        return read_measurements(path)


@pytest.fixture(
    scope="module", params=[20, pytest.param(100, marks=pytest.mark.long)], ids="{} runs".format
)
def runs(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("runs")
    wrong = [(seed % 110, (seed * 7) % 110 + 5) for seed in range(request.param)]
    return [repeatability(Machine(s).log(folder, wrong=wrong[s])) for s in range(request.param)]


def _within(runs, value):
    return sum(value(found) for found in runs)


def test_cycle_is_found_with_its_period_and_size(runs):
    cycles = [found.axes[0].sure_cycle for found in runs]
    assert sum(cycle is not None for cycle in cycles) >= 0.95 * len(cycles)
    sure = [cycle for cycle in cycles if cycle is not None]
    assert sum(c.period.low <= 190 <= c.period.high for c in sure) >= 0.9 * len(sure)
    assert sum(c.amplitude.low <= 0.1 <= c.amplitude.high for c in sure) >= 0.9 * len(sure)
    assert all(abs(2 * c.amplitude.value - 0.2) < 0.02 for c in sure)


def test_outliers_are_named_by_their_lines(runs):
    for seed, found in enumerate(runs):
        planted = {seed % 110 + 2, (seed * 7) % 110 + 7}
        assert planted <= set(found.axes[0].outliers)
    assert _within(runs, lambda found: len(found.axes[0].outliers) <= 2) >= 0.9 * len(runs)


def test_no_cycle_is_claimed_of_the_axis_without_one(runs):
    assert _within(runs, lambda found: found.axes[1].sure_cycle is not None) <= 0.05 * len(runs)


@pytest.mark.parametrize("fading", [0.0, 0.8])
@pytest.mark.parametrize("amount", [20, pytest.param(100, marks=pytest.mark.long)])
def test_no_cycle_is_claimed_of_noise(fading, amount):
    claimed = 0
    for seed in range(amount):
        machine = Machine(1000 + seed, cycle=0.0, fading=fading)
        cycle = find_cycle(machine.time, machine.x - 0.01 * machine.side)
        claimed += cycle is not None and cycle.is_sure
    assert claimed <= 0.05 * amount


def test_bias_and_reversal_are_within_their_intervals(tmp_path):
    found = [repeatability(Machine(s, cycle=0.0).log(tmp_path)) for s in range(20)]
    biases = [f.axes[0].bias for f in found]
    reversals = [f.axes[0].axis.reversal for f in found]
    # the mean has the share of the sides in it, which is random: bias is that of the mean side
    assert sum(r.low <= 0.02 <= r.high for r in reversals) >= 18
    assert sum(b.low - 0.002 <= 0.03 <= b.high + 0.002 for b in biases) >= 18


def test_before_and_after_says_that_the_cycle_is_gone(tmp_path):
    before = Machine(1).log(tmp_path, "before.csv")
    after = Machine(2, cycle=0.0).log(tmp_path, "after.csv")
    found = repeatability(after, before)
    assert found.compared[0].is_gone
    assert found.compared[0].remains.high * 2 < 0.03
    assert found.compared[0].ratio.high < 1
    still = repeatability(Machine(3).log(tmp_path, "still.csv"), before)
    assert not still.compared[0].is_gone


def test_what_may_remain_holds_what_remains(tmp_path):
    before = Machine(1).log(tmp_path, "before.csv")
    held = 0
    for seed in range(20):
        now = Machine(200 + seed, cycle=0.03).log(tmp_path)
        held += repeatability(now, before).compared[0].remains.high >= 0.015
    assert held >= 18


def test_two_explanations_that_fit_alike_are_both_named(tmp_path):
    time = np.arange(200) * 10.0
    angle = (time * 360 / 190) % 360  # the spindle turns with the cycle
    random = np.random.default_rng(5)
    x = 0.1 * np.cos(np.radians(angle)) + 0.01 * random.standard_normal(200)
    other = random.uniform(0, 360, 200)
    for column, expected in ((angle, {"time", "spindle angle"}), (other, {"time"})):
        rows = zip(time, x, column, strict=True)
        lines = ["time_s,x_mm,spindle_angle", *(f"{t},{v:.5f},{a:.3f}" for t, v, a in rows)]
        path = tmp_path / "log.csv"
        path.write_text("\n".join(lines))
        influences = repeatability(read_measurements(path)).axes[0].influences
        assert {one.name for one in influences if one.is_alike} == expected


def test_a_pitch_and_a_temperature_are_found(tmp_path):
    random = np.random.default_rng(6)
    at = random.uniform(0, 400, 300)
    warm = 20 + 4 * random.random(300)
    dx = 0.05 * np.sin(2 * np.pi * at / 40) + 0.005 * random.standard_normal(300)
    dy = 0.02 * (warm - 22) + 0.005 * random.standard_normal(300)
    rows = zip(range(300), dx, dy, at, warm, strict=True)
    lines = ["time_s,dx_mm,dy_mm,command_x_mm,temperature"]
    lines += [f"{t},{x:.5f},{y:.5f},{c:.3f},{w:.3f}" for t, x, y, c, w in rows]
    (tmp_path / "log.csv").write_text("\n".join(lines))
    x, y = repeatability(read_measurements(tmp_path / "log.csv")).axes
    assert x.influences[0].name == "a pitch along x"
    assert x.influences[0].pitch == pytest.approx(40, rel=0.01)
    assert [one.name for one in y.influences] == ["temperature"]


def test_an_error_in_proportion_to_the_position_is_not_only_a_cycle(tmp_path):
    random = np.random.default_rng(8)
    places = [*range(0, 401, 100), *range(400, -1, -100)] * 5
    lines = ["x_mm,command_x_mm,approach_x"]
    for at, place in enumerate(places):
        side = "+" if at % 10 < 5 else "-"
        error = 0.03 * place / 400 + 0.004 * random.standard_normal()
        lines.append(f"{place + error:.4f},{place},{side}")
    (tmp_path / "log.csv").write_text("\n".join(lines))
    x = repeatability(read_measurements(tmp_path / "log.csv")).axes[0]
    assert "commanded x" in {one.name for one in x.influences if one.is_alike}


def test_few_and_equal_measurements_are_no_crash(tmp_path):
    for text in ("x_mm\n1\n1\n1\n", "x_mm,time_s\n1,0\n2,0\n3,1\n", "x_mm\n1e8\n-1e8\n5\n"):
        (tmp_path / "log.csv").write_text(text)
        found = repeatability(read_measurements(tmp_path / "log.csv"))
        assert found.axes[0].sure_cycle is None
        assert repeatability_text(found, _call())
        repeatability_svg(found)


def test_even_times_name_the_aliases():
    time = 10.0 * np.arange(150, dtype=np.float64)
    random = np.random.default_rng(7)
    cycle = find_cycle(time, np.cos(2 * np.pi * time / 73) + 0.1 * random.standard_normal(150))
    assert cycle is not None
    # at 0.1 Hz the frequencies 0.1 - 1/73 and 0.1 + 1/73 look the same (arithmetic)
    assert cycle.aliases == pytest.approx((1 / (0.1 - 1 / 73), 1 / (0.1 + 1 / 73)), rel=1e-3)
    uneven: np.ndarray = np.cumsum(random.uniform(5, 15, 150))
    cycle = find_cycle(uneven, np.cos(2 * np.pi * uneven / 73) + 0.1 * random.standard_normal(150))
    assert cycle is not None
    assert cycle.aliases == ()


def test_a_record_shorter_than_two_periods_says_so(tmp_path):
    machine = Machine(8, cycle=0.2, period=4000.0)
    found = repeatability(machine.log(tmp_path))
    assert found.axes[0].sure_cycle is None
    assert found.axes[0].slow is not None
    text = "\n".join(repeatability_text(found, _call()))
    assert "shorter than two periods" in text


def _call():
    return Call("jobcheck", None, FilePath.cwd(), None)


def test_a_trend_is_given_with_its_interval(tmp_path):
    held = 0
    for seed in range(20):
        machine = Machine(600 + seed, cycle=0.0)
        machine.x = machine.x + 0.03 * machine.time / 3600  # mm/h
        cycle = repeatability(machine.log(tmp_path)).axes[0].cycle
        assert cycle is not None
        held += cycle.trend.low <= 0.03 / 3600 <= cycle.trend.high
    assert held >= 18
    machine.x = machine.x + 0.5 * machine.time / 3600
    text = " ".join(repeatability_text(repeatability(machine.log(tmp_path)), _call()))
    assert "mm/h" in text
    assert "a trend" in text


def test_no_other_command_imports_numpy_or_scipy():
    code = (
        "import sys, io; from jobcheck.cli.main import main;"
        "[main([*words, '--shop', sys.argv[1]], io.StringIO(), io.StringIO()) for words in "
        "(['lint'], ['diff'], [], ['proof'], ['preflight', 'soil-logger'])];"
        "print([name for name in ('numpy', 'scipy') if name in sys.modules])"
    )
    words = [sys.executable, "-c", code, str(EXAMPLES / "soil-logger")]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_without_numpy_it_says_what_to_install(monkeypatch, tmp_path):
    (tmp_path / "log.csv").write_text(GOOD)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    out, err = io.StringIO(), io.StringIO()
    assert main(["repeatability", str(tmp_path / "log.csv")], out, err) == 2
    assert "numpy and scipy" in err.getvalue()
    assert "-m pip install numpy scipy" in err.getvalue()


def test_the_command_line(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Machine(1).log(tmp_path, "before.csv")
    Machine(2, cycle=0.0).log(tmp_path, "after.csv")
    out, err = io.StringIO(), io.StringIO()
    words = ["repeatability", "after.csv", "--compare", "before.csv", "--picture", "p.svg"]
    assert main(words, out, err) == 0, err.getvalue()
    assert "is gone" in " ".join(out.getvalue().split())
    assert (tmp_path / "p.svg").read_text().startswith("<svg")
    assert main(["repeatability", "none.csv"], out, err) == 2
    assert "none.csv is not a file" in err.getvalue()


def test_more_samples_settle_what_is_unsure():
    unsure = []
    for seed in range(20):
        machine = Machine(400 + seed, cycle=0.012, rows=100)
        cycle = find_cycle(machine.time, machine.x - 0.01 * machine.side)
        if cycle is not None and cycle.samples_to_settle is not None:
            unsure.append(cycle)
    assert unsure
    assert not any(cycle.is_sure for cycle in unsure)


def test_rounded_values_are_no_outliers(tmp_path):
    random = np.random.default_rng(9)
    x = np.where(random.random(100) < 0.1, 0.01, 0.0)
    (tmp_path / "log.csv").write_text("x_mm\n" + "\n".join(f"{v:.2f}" for v in x))
    assert repeatability(read_measurements(tmp_path / "log.csv")).axes[0].outliers == ()


def test_report_and_data_and_picture(tmp_path):
    found = repeatability(Machine(1).log(tmp_path, wrong=[40]))
    text = repeatability_text(found, _call())
    assert [line for line in text[1:] if len(line) > 80] == []
    assert any("drifts in a cycle of" in line for line in text)
    data = json.loads(json.dumps(repeatability_data(found)))
    assert data["axes"]["x"]["cycle"]["is_sure"]
    svg = repeatability_svg(found._replace(log=found.log._replace(file="<b>&.csv")))
    assert "<b>" not in svg
    assert svg.count("<circle") >= 2 * 120


def test_summary_is_written_by_span(tmp_path, root):
    found = repeatability(Machine(1).log(tmp_path))
    shown = with_summary(found, root, date(2026, 11, 20), write=False)
    assert shown.proposal.edited.files
    assert read_shop(folder_state(root)).shop.machine.repeatability is None
    with_summary(found, root, date(2026, 11, 20), write=True)
    machine = read_shop(folder_state(root)).shop.machine
    assert machine.repeatability.x_mm == pytest.approx(found.axes[0].spread.value, abs=1e-4)
    assert machine.drift.x_mm == pytest.approx(0.2, abs=0.02)
    assert machine.drift.period_s == pytest.approx(190, rel=0.02)
    assert machine.reversal.x == pytest.approx(0.02, abs=0.03)
    again = with_summary(found, root, date(2026, 11, 20), write=False)
    assert not again.proposal.edited.files


GOOD = "time_s,x_mm,y_mm\n" + "".join(f"{t},{t / 7:.3f},0.5\n" for t in range(9))

DAMAGED = {
    "nothing": ("", "0 rows"),
    "header only": ("time_s,x_mm\n", "0 rows"),
    "no axis": ("time_s,speed\n1,2\n2,3\n3,4\n", "no column x or y"),
    "no unit": ("time_s,x\n1,2\n2,3\n3,4\n", "--units"),
    "no time unit": ("time,x_mm\n1,2\n2,3\n3,4\n", "--time-unit"),
    "wrong unit": ("time_s,x (furlong)\n1,2\n2,3\n3,4\n", "unit furlong"),
    "two columns": ("x_mm,pos_x_mm\n1,2\n2,3\n3,4\n", "both give x"),
    "two kinds": ("x_mm,dx_mm\n1,2\n2,3\n3,4\n", "two measurements of x"),
    "word": (GOOD.replace("0.143", "abc"), "log.csv:3: x_mm is abc"),
    "empty cell": (GOOD.replace("0.143", ""), "log.csv:3: x_mm is empty"),
    "nan": (GOOD.replace("0.143", "nan"), "log.csv:3: x_mm is nan"),
    "infinite": (GOOD.replace("0.143", "1e999"), "log.csv:3: x_mm is 1e999"),
    "short row": (GOOD.replace("3,0.429,0.5", "3,0.429"), "log.csv:5: 2 cells"),
    "back": (GOOD.replace("5,0.714", "1,0.714"), "log.csv:7: time_s goes back"),
    "one time": ("time_s,x_mm\n1,2\n1,3\n1,4\n", "in every row"),
    "date": (
        "time,x_mm\n2026-11-25,2\nyesterday,3\n2026-11-27,4\n",
        "log.csv:3: time is yesterday",
    ),
    "zones": ("time,x_mm\n2026-11-25,2\n2026-11-26T01:00+01:00,3\n2026-11-27,4\n", "time zone"),
    "approach": ("x_mm,approach\n1,+x\n2,north\n3,-x\n", "log.csv:3: approach north"),
    "NUL": ("x_mm\n1\n2\x00\n3\n", "NUL"),
    "quote": ('x_mm\n"1\n2\n3\n', "log.csv:"),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_a_damaged_log_is_one_clear_error(name, tmp_path):
    text, says = DAMAGED[name]
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(CallRefused) as refused:
        repeatability(read_measurements(path))
    assert says in str(refused.value)
    assert "log.csv" in str(refused.value)


def test_units_times_and_decimal_commas_are_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Zeit;x [um];t / min\na;1500,5;0\nb;1501;0,5\nc;1502;1\n")
    log = read_measurements(path)
    assert log.numbers["x"].tolist() == pytest.approx([1.5005, 1.501, 1.502])
    assert log.numbers["time"].tolist() == [0, 30, 60]
    assert log.unused == ("Zeit",)
    path.write_text(
        "timestamp,x\n2026-11-25T10:00:00,1\n2026-11-25T10:00:05,2\n2026-11-25 10:01,3\n"
    )
    log = read_measurements(path, units="mil")
    assert log.numbers["time"].tolist() == [0, 5, 60]
    assert math.isclose(log.numbers["x"][0], 0.0254)


def test_many_rows_are_averaged_for_the_search(tmp_path):
    random = np.random.default_rng(10)
    time = np.cumsum(random.uniform(0.5, 1.5, 50_000))
    x = 0.1 * np.cos(2 * np.pi * time / 500) + 0.05 * random.standard_normal(len(time))
    (tmp_path / "log.csv").write_text(
        "time_s,x_mm\n" + "\n".join(f"{t:.2f},{v:.4f}" for t, v in zip(time, x, strict=True))
    )
    found = repeatability(read_measurements(tmp_path / "log.csv"))
    assert found.axes[0].sure_cycle.period.value == pytest.approx(500, rel=0.001)
