"""Commits of repositories whose records were damaged, removed or hidden from git's own view."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.hook.repository import Repository
from tests.hook.test_records import LOST_GAIN, keep, kept, recorded

__all__ = ["kept", "recorded"]
RECORD = "shop/known-good/1-as-it-works"


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_removing_a_record_is_stopped_and_what_it_proposes_puts_it_back(
    recorded: Repository,
) -> None:
    recorded.git("rm", "-r", "--quiet", "shop/known-good")
    done = recorded.commit()
    assert not done.passed
    assert done.text.count("[record-removed]") == 1
    assert f"        git restore --staged --worktree -- {RECORD}\n" in done.text
    recorded.git("restore", "--staged", "--worktree", "--", RECORD)
    assert recorded.jobcheck("history", "--shop", "shop").passed


def test_removing_a_record_and_losing_a_setting_at_once_is_stopped(recorded: Repository) -> None:
    recorded.git("rm", "-r", "--quiet", "shop/known-good")
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert not done.passed
    assert "[record-removed]" in done.text


@pytest.mark.parametrize("place", ["bench", "elsewhere/bench"])
def test_moving_the_shop_without_its_records_is_stopped(recorded: Repository, place: str) -> None:
    (recorded.top / place).parent.mkdir(exist_ok=True)
    recorded.git("mv", "shop", place)
    recorded.git("rm", "-r", "--quiet", "--cached", f"{place}/known-good")
    shutil.rmtree(recorded.top / place / "known-good")
    recorded.stage(f"{place}/placer.yaml", *LOST_GAIN[1:])
    done = recorded.commit()
    assert not done.passed
    assert done.text.count("[record-removed]") == 1
    assert f"git restore --staged --worktree -- {RECORD}\n" in done.text
    recorded.git("restore", "--staged", "--worktree", "--", RECORD)
    recorded.git("mv", "shop/known-good", f"{place}/known-good")
    done = recorded.commit()
    assert "[record-removed]" not in done.text
    assert "[camera-settings-lost]" in done.text


def test_removing_a_withdrawn_record_passes(recorded: Repository) -> None:
    done = recorded.jobcheck("withdraw", "1", "--because", "a loose lens", "--shop", "shop")
    assert done.passed, done.text
    recorded.git("add", "shop")
    recorded.git("commit", "--quiet", "--no-verify", "-m", "withdrawn")
    recorded.git("rm", "-r", "--quiet", "shop/known-good")
    done = recorded.commit()
    assert done.passed, done.text


def test_moving_the_whole_shop_passes(recorded: Repository) -> None:
    recorded.git("mv", "shop", "bench")
    done = recorded.commit()
    assert done.passed, done.text


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        ("rm -r {record}/record.yaml", "record.yaml is missing"),
        ("mv {record} shop/known-good/1_as_it_works", "not named as a number and a label"),
        ("printf 'sums: {{}}\\n' > {record}/record.yaml", "record.yaml: number"),
        ("sed -i s/gain/again/ {record}/placer.yaml", "its copy of placer.yaml was changed"),
        ("sed -i 's/$/\\r/' {record}/parts.yaml", "other line ends than were recorded"),
    ],
)
def test_a_damaged_record_in_the_commit_is_an_error(
    recorded: Repository, damage: str, says: str
) -> None:
    command = damage.format(record=RECORD)
    subprocess.run(["sh", "-c", command], cwd=recorded.top, check=True)
    recorded.git("add", "--all", "shop")
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert not done.passed
    assert says in _flat(done.text)
    assert "[record-damaged]" in done.text


def test_the_newest_whole_record_is_used_meanwhile_and_named(recorded: Repository) -> None:
    parts = recorded.top / "shop/parts.yaml"
    parts.write_text(parts.read_text().replace("height_mm: 0.45", "height_mm: 0.46"))
    keep(recorded, "second")
    (recorded.top / "shop/known-good/2-second/record.yaml").unlink()
    recorded.git("add", "--all", "shop")
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert not done.passed
    assert "[record-damaged]" in done.text
    assert "[camera-settings-lost]" in done.text
    assert "record 1, as-it-works" in _flat(done.text)


@pytest.mark.parametrize(
    "option", ["--literal-pathspecs", "--glob-pathspecs", "--noglob-pathspecs", "--icase-pathspecs"]
)
def test_git_s_own_options_never_change_the_answer(recorded: Repository, option: str) -> None:
    recorded.stage(*LOST_GAIN)
    done = recorded.try_git(option, "commit", "-m", "a commit")
    assert not done.passed
    assert "[camera-settings-lost]" in done.text


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("core.quotePath", "true"),
        ("core.autocrlf", "true"),
        ("core.ignoreCase", "true"),
        ("core.precomposeUnicode", "true"),
        ("diff.renames", "copies"),
        ("diff.relative", "true"),
        ("diff.external", "false"),
        ("diff.noprefix", "true"),
        ("status.relativePaths", "false"),
        ("core.pager", "false"),
        ("color.ui", "always"),
        ("index.version", "4"),
        ("core.untrackedCache", "true"),
    ],
)
def test_settings_of_git_never_change_the_answer(
    recorded: Repository, name: str, value: str
) -> None:
    recorded.git("config", name, value)
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert not done.passed
    assert "[camera-settings-lost]" in done.text
    assert done.hook_code == 1


def test_a_shop_without_records_is_not_a_shop_whose_records_are_damaged(
    recorded: Repository, tmp_path: Path
) -> None:
    shutil.rmtree(recorded.top / "shop/known-good")
    done = recorded.jobcheck("history", "--shop", "shop")
    assert done.passed
    assert "no record" in done.text


VARIABLES = {
    "GIT_LITERAL_PATHSPECS": "1",
    "GIT_GLOB_PATHSPECS": "1",
    "GIT_NOGLOB_PATHSPECS": "1",
    "GIT_ICASE_PATHSPECS": "1",
    "GIT_PREFIX": "shop/jobs/",
    "GIT_EXTERNAL_DIFF": "false",
    "GIT_DIFF_OPTS": "--unified=0",
    "GIT_PAGER": "false",
    "GIT_TRACE": "2",
    "GIT_TRACE2": "2",
    "GIT_TRACE_SETUP": "1",
    "GIT_TRACE_PACKET": "1",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_REFLOG_ACTION": "amend",
    "GIT_FLUSH": "0",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_DEFAULT_HASH": "sha256",
    "GIT_INDEX_VERSION": "2",
    "GIT_CEILING_DIRECTORIES": "/",
    "GIT_DISCOVERY_ACROSS_FILESYSTEM": "0",
    "GIT_ATTR_SOURCE": "HEAD",
    "GIT_ATTR_NOSYSTEM": "1",
    "GIT_REDIRECT_STDERR": "off",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_ADVICE": "0",
    "GIT_MERGE_VERBOSITY": "0",
    "GIT_PRINT_SHA1_ELLIPSIS": "yes",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_AUTHOR_NAME": "",
    "GIT_EDITOR": "false",
    "GIT_EXEC_PATH": "",
    "LC_ALL": "tr_TR.UTF-8",
    "LANGUAGE": "de",
    "TZ": "Pacific/Kiritimati",
    "PYTHONOPTIMIZE": "2",
    "PYTHONUTF8": "0",
    "PYTHONIOENCODING": "ascii",
}
"""Variables of git(1), ENVIRONMENT, and of Python, that could reach the hook."""


def test_no_variable_around_the_hook_changes_the_answer(recorded: Repository) -> None:
    recorded.stage(*LOST_GAIN)
    for name, value in VARIABLES.items():
        with_it = Repository(recorded.top, recorded.environment | {name: value})
        done = with_it.jobcheck("lint", "--staged")
        assert done.code == 1, f"{name}: {done.text}"
        assert "[camera-settings-lost]" in done.text, name
