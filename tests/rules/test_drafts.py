"""A job with only its list is a job: what is not described yet is not checked."""

from __future__ import annotations

import io
import json
import shutil

import pytest

from jobcheck.cli.main import main
from jobcheck.findings import Level
from tests.golden.play import EXAMPLES
from tests.support.edited import edited, linted

DRAFT = (
    "jobs.second: {describes: job, edition: 1, placements: {units: mm, "
    "R1: {part: PART, x: 1, y: 1, rotation: 0}}MORE}"
)


def _job(part: str = "10k-0603", more: str = "") -> str:
    return DRAFT.replace("PART", part).replace("MORE", more)


def test_a_list_alone_is_not_checked() -> None:
    found = linted(edited(_job()))
    assert [one for one in found.findings if one.level is not Level.NOTE] == []
    mine = [one for one in found.not_checked if one.rule == "job-incomplete"]
    assert [(one.concerns, one.cause) for one in mine] == [
        ("1 placement of second", "no side, no board, no seat in second")
    ]


def test_a_part_that_nobody_described_is_not_checked() -> None:
    found = linted(edited(_job("regulator-3v3")))
    assert [one.rule for one in found.findings if one.level is Level.ERROR] == []
    assert any("regulator-3v3" in one.cause for one in found.not_checked)


@pytest.mark.parametrize(("part", "is_slip"), [("10K-0603", True), ("22k-0603", False)])
def test_a_misspelled_part_is_an_error_and_another_value_is_not(part: str, is_slip: bool) -> None:
    errors = [one for one in linted(edited(_job(part))).findings if one.level is Level.ERROR]
    assert [one.rule for one in errors] == (["job-incomplete"] if is_slip else [])


def test_with_a_run_the_gap_is_an_error() -> None:
    found = linted(edited(_job(more=", run: {panels: 2}, side: top")))
    assert [one.rule for one in found.findings if one.level is Level.ERROR] == ["job-incomplete"]
    assert "no board, no seat" in found.findings[0].message


def test_commands_work_beside_a_list_alone(tmp_path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger", shop)
    (shop / "jobs/second").mkdir()
    (shop / "jobs/second/job.yaml").write_text(
        "describes: job\nedition: 1\nplacements: {file: list.csv, units: mm}\n"
    )
    rows = (shop / "jobs/soil-logger/placements.csv").read_text().splitlines()[:4]
    (shop / "jobs/second/list.csv").write_text("\n".join(rows) + "\n")
    calls = {
        (): 0,
        ("lint",): 0,
        ("lint", "--format", "json"): 0,
        ("diff",): 1,
        ("proof",): 1,
        ("where", "D1"): 0,
        ("where", "C1", "--job", "second"): 2,
        ("preflight", "second"): 2,
        ("restore", "cameras.up"): 0,
        ("keep", "--label", "with a list"): 0,
        ("diff", "--only", "jobs.second"): 0,
    }
    for words, code in calls.items():
        out = io.StringIO()
        given = main([*words, "--shop", str(shop), "--as-of", "2026-11-25"], out, out)
        assert given == code, (words, out.getvalue())
        if "--job" in words:
            assert "is not described whole: no side, no board, no seat" in out.getvalue()
        if "json" in words:
            assert json.loads(out.getvalue())
