"""A commit that touches no shop costs next to nothing: no model, no rule, no parser is loaded."""

import json
import re
import sys

import pytest

from tests.hook.repository import PROJECT, Repository, run

HEAVY = ("pydantic", "ruamel", "rich", "deepdiff", "jobcheck.rules", "jobcheck.reports.findings")


def modules(repository: Repository, *arguments: str) -> set[str]:
    """Return the modules that a call loads, by the interpreter's own account."""
    here = repository.environment | {"PYTHONPATH": str(PROJECT)}
    command = [sys.executable, "-X", "importtime", "-m", "jobcheck", *arguments]
    done = run(command, repository.top, here)
    assert done.passed, done.text
    return set(re.findall(r"^import time:[ 0-9]+\|[ 0-9]+\| +(\S+)$", done.text, re.MULTILINE))


def heavy(loaded: set[str]) -> set[str]:
    return {name for name in loaded if name.startswith(HEAVY)}


def test_nothing_heavy_is_loaded_where_no_shop_is_touched(bare: Repository) -> None:
    bare.write("notes.txt", "The belt was changed.\n")
    bare.git("add", ".")
    loaded = modules(bare, "lint", "--staged")
    assert "jobcheck.sources.staged" in loaded
    assert heavy(loaded) == set()
    bare.stage("shop/feeders.yaml", "remaining: 800", "remaining: 750")
    assert heavy(modules(bare, "lint", "--staged")) > {"pydantic", "jobcheck.rules"}


def test_other_formats_stay_whole_where_no_shop_is_touched(bare: Repository) -> None:
    bare.write("notes.txt", "The belt was changed.\n")
    bare.git("add", ".")
    done = bare.jobcheck("lint", "--staged", "--format", "json")
    assert done.passed
    assert json.loads(done.text)["shops"] == []
    assert bare.jobcheck("lint", "--staged").text == ""


@pytest.mark.parametrize("option", ["--only", "--skip"])
def test_an_unknown_rule_is_told_where_no_shop_is_touched(bare: Repository, option: str) -> None:
    bare.write("notes.txt", "The belt was changed.\n")
    bare.git("add", ".")
    done = bare.jobcheck("lint", "--staged", option, "feeder-slot-shard")
    assert done.code == 2
    assert "feeder-slot-wrong" in done.text
