"""Commits judged by the known-good record: what was lost, what was changed on purpose."""

import shutil
from pathlib import Path

import pytest

from tests.hook.conftest import bare_hook
from tests.hook.repository import PROJECT, Repository

LOST_GAIN = ("shop/placer.yaml", "      gain: 4\n", "")
RETUNED = (
    "shop/placer.yaml",
    "exposure_time_absolute: 100\n      exposure_dynamic_framerate: 0\n      gain: 4\n",
    "exposure_time_absolute: 120\n      exposure_dynamic_framerate: 0\n      gain: 4\n",
)


def keep(repository: Repository, label: str, *arguments: str) -> None:
    done = repository.jobcheck("keep", "--shop", "shop", "--label", label, *arguments)
    assert done.passed, done.text


@pytest.fixture(scope="module")
def kept(template: Repository, tmp_path_factory: pytest.TempPathFactory) -> Repository:
    """The template with a known-good record of its shop, not yet added to git."""
    top = tmp_path_factory.mktemp("kept") / "bench"
    shutil.copytree(template.top, top)
    kept = Repository(top, template.environment)
    keep(kept, "as it works")
    return kept


@pytest.fixture
def recorded(kept: Repository, tmp_path: Path) -> Repository:
    """A repository whose last commit holds a known-good record of its shop."""
    recorded = Repository(tmp_path / "my bench", kept.environment)
    shutil.copytree(kept.top, recorded.top)
    recorded.git("add", "shop/known-good")
    recorded.git("commit", "--quiet", "--no-verify", "-m", "the first record")
    return recorded


def test_without_a_record_nothing_is_lost_and_one_note_says_so(repository: Repository) -> None:
    repository.git("update-ref", "-d", "HEAD")
    repository.stage(*LOST_GAIN)
    done = repository.commit()
    assert done.passed, done.text
    assert done.text.count("no known-good record yet") == 1
    assert "[camera-settings-lost]" not in done.text


def test_a_lost_gain_is_stopped_though_lint_alone_would_pass_it(recorded: Repository) -> None:
    recorded.stage(*LOST_GAIN)
    shutil.copytree(
        recorded.top / "shop",
        recorded.top.parent / "alone/shop",
        ignore=shutil.ignore_patterns("known-good"),
    )
    assert recorded.jobcheck("lint", folder="../alone/shop").passed
    done = recorded.commit()
    assert done.hook_code == 1
    assert done.text.count("Error: ") == 1
    assert "record 1, as-it-works" in done.text
    assert "[camera-settings-lost]" in done.text
    assert "gain missing" in done.text
    assert "        jobcheck restore cameras.up --write --shop shop\n" in done.text
    assert "        git add shop/placer.yaml\n" in done.text
    assert "\nNext\n" not in done.text


def test_what_a_stopped_commit_proposes_can_be_pasted(recorded: Repository) -> None:
    """Called in a folder with a blank in its name, below the top: as it stands, each line works."""
    recorded.git("mv", "shop", "the shop")
    recorded.git("commit", "--quiet", "--no-verify", "-m", "moved")
    recorded.stage("the shop/placer.yaml", *LOST_GAIN[1:])
    recorded.write("notes/belt.txt", "The belt was changed.\n")
    below = Repository(recorded.top / "notes", recorded.environment)
    done = below.commit()
    assert done.hook_code == 1
    assert "        jobcheck restore cameras.up --write --shop '../the shop'\n" in done.text
    assert "        git add '../the shop/placer.yaml'\n" in done.text
    keep = "        jobcheck keep --label TEXT --on-purpose cameras.up --shop '../the shop'\n"
    assert keep in done.text
    assert "        git add '../the shop/known-good'\n" in done.text
    put_back = below.jobcheck("restore", "cameras.up", "--shop", "../the shop", "--write")
    assert put_back.passed, put_back.text
    assert below.git("diff", "HEAD") == ""


def test_a_deliberate_retune_passes_with_a_warning(recorded: Repository) -> None:
    recorded.stage(*RETUNED)
    done = recorded.commit()
    assert done.passed, done.text
    assert "Warning: " in done.text
    assert "[recognition-tuning-stale]" in done.text
    assert "Error: " not in done.text


def test_a_loss_on_purpose_is_settled_by_a_record_that_names_it(recorded: Repository) -> None:
    """The record counts once it is staged: what is not committed convinces nobody else."""
    recorded.stage(*LOST_GAIN)
    refused = recorded.jobcheck("keep", "--shop", "shop", "--label", "no gain")
    assert refused.code == 1
    keep(recorded, "no gain", "--on-purpose", "cameras.up.controls.gain")
    assert recorded.commit().hook_code == 1
    recorded.git("add", "shop/known-good")
    done = recorded.commit()
    assert done.passed, done.text
    assert "[camera-settings-lost]" not in done.text


def test_records_that_are_not_in_the_index_are_read_from_the_folder(recorded: Repository) -> None:
    bare_hook(recorded)
    recorded.git("rm", "--quiet", "-r", "--cached", "shop/known-good")
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert done.code == 1
    assert "[camera-settings-lost]" in done.text


def test_records_of_the_index_count_although_gone_from_the_disk(recorded: Repository) -> None:
    bare_hook(recorded)
    shutil.rmtree(recorded.top / "shop/known-good")
    recorded.stage(*LOST_GAIN)
    done = recorded.commit()
    assert done.code == 1
    assert "[camera-settings-lost]" in done.text


def test_a_commit_of_one_path_is_compared_with_the_record_it_holds(recorded: Repository) -> None:
    bare_hook(recorded)
    recorded.stage(*LOST_GAIN)
    keep(recorded, "no gain", "--on-purpose", "cameras.up.controls.gain")
    recorded.git("add", ".")
    assert recorded.commit("--", "shop/placer.yaml").code == 1
    assert recorded.commit().passed


def test_a_withdrawn_record_is_not_compared_with(recorded: Repository) -> None:
    bare_hook(recorded)
    taken = ("withdraw", "as-it-works", "--because", "the lens was loose", "--shop", "shop")
    assert recorded.jobcheck(*taken).passed
    recorded.stage(*LOST_GAIN)
    assert recorded.commit().code == 1
    recorded.git("add", "shop/known-good")
    assert recorded.commit().passed


def test_line_ends_that_git_translates_are_no_change(bare: Repository) -> None:
    """The work tree has CRLF, the index LF; records are kept as they were in the work tree."""
    path = bare.top / "shop/placer.yaml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    bare.git("config", "core.autocrlf", "true")
    keep(bare, "as it works")
    bare.git("add", ".")
    done = bare.commit()
    assert done.passed
    assert "No findings." in done.text


def test_the_bad_days_of_the_example_are_stopped_each_named_once(recorded: Repository) -> None:
    def bring(example: str) -> None:
        shutil.rmtree(recorded.top / "shop", ignore_errors=True)
        ignored = shutil.ignore_patterns("known-good")
        shutil.copytree(PROJECT / "examples" / example, recorded.top / "shop", ignore=ignored)

    bring("soil-logger")
    keep(recorded, "as it works")
    recorded.git("add", "--all")
    done = recorded.commit()
    assert done.passed, done.text
    assert "No findings." in done.text
    record = recorded.top.parent / "record"
    shutil.move(recorded.top / "shop/known-good", record)
    bring("soil-logger-drifted")
    shutil.move(record, recorded.top / "shop/known-good")
    recorded.git("add", "--all")
    done = recorded.commit()
    assert done.hook_code == 1
    causes = ("camera-settings-lost", "feeder-slot-wrong", "pick-rotation-wrong")
    for rule in (*causes, "height-unknown"):
        assert done.text.count(f"[{rule}]") == 1, rule
    assert done.text.count("Error: ") == 4
