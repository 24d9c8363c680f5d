"""The states that a command line can name."""

import shutil
import subprocess

import pytest

from jobcheck.findings import CallRefused
from jobcheck.known_good.keeping import withdraw
from jobcheck.known_good.states import open_state
from jobcheck.sources.shop_reader import read_shop
from tests.known_good.test_records import DAY, change, git, keep, records
from tests.support.edited import STARTER


@pytest.fixture
def root(tmp_path, monkeypatch):
    root = tmp_path / "top" / "shop"
    shutil.copytree(STARTER, root)
    monkeypatch.chdir(tmp_path)
    return root


def placer(text, root):
    return open_state(text, root).files["placer.yaml"]


def test_each_state_has_its_own_bytes(root):
    git(root.parent, "init", "-q")
    kept = (root / "placer.yaml").read_bytes()
    keep(root, "first")
    change(root)
    git(root.parent, "add", ".")
    git(root.parent, "commit", "-q", "-m", "first")
    change(root)
    git(root.parent, "add", ".")
    change(root)
    changed = b"# changed\n"
    assert placer("good", root) == placer("good:first", root) == placer("good:1", root) == kept
    assert placer("git:HEAD", root) == kept + changed
    assert placer("staged", root) == kept + 2 * changed
    assert placer("now", root) == placer("top/shop", root) == kept + 3 * changed
    assert read_shop(open_state("git:HEAD", root)).faults == ()


def test_a_state_is_labelled_as_it_was_asked_for(root):
    keep(root, "first")
    assert [open_state(text, root).label for text in ("now", "good:first", "top/shop")] == [
        "now",
        "good:1",
        "top/shop",
    ]


def test_a_folder_called_good_is_written_with_a_dot(root, tmp_path):
    shutil.copytree(root, tmp_path / "good")
    assert open_state("./good", root).name == "good"
    with pytest.raises(CallRefused, match="no known-good record yet"):
        open_state("good", root)


def test_a_withdrawn_record_is_still_a_state_by_its_name(root):
    keep(root, "first")
    withdraw(root, records(root).find("first"), "loose lens", DAY)
    assert open_state("good:first", root).label == "good:1"
    with pytest.raises(CallRefused, match="The only record is withdrawn"):
        open_state("good", root)


def test_good_is_refused_where_the_last_record_does_not_fit(root):
    for label in ("first", "second", "third"):
        kept = keep(root, label)
        if label != "first":
            change(root / kept.entry.folder)
    with pytest.raises(CallRefused) as refused:
        open_state("good", root)
    assert str(refused.value) == (
        "Record 3, third, cannot be used: its copy of placer.yaml was changed after it was "
        "recorded. The record before it is record 1, first: good:1."
    )
    with pytest.raises(CallRefused, match="Record 2, second, cannot be used"):
        open_state("good:second", root)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("goood", "State goood does not exist. Did you mean good?"),
        ("first", "State first does not exist. Did you mean good:first?"),
        ("gti:HEAD", "State gti:HEAD does not exist. Did you mean git:REVISION?"),
        ("stagd", "Did you mean staged?"),
        ("qqq", "A state is now, staged, good, good:LABEL, git:REVISION, or a folder"),
        ("good:frist", "Record frist does not exist. Near: first."),
        ("git:", "State git: does not exist. Did you mean git:REVISION?"),
        ("git:HEAD", "git:HEAD cannot be read: "),
        ("staged", "staged cannot be read: "),
        ("top", "No shop there: no shop.yaml in top."),
    ],
)
def test_what_is_no_state_is_told_with_near_ones(root, text, says, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(root.parent.parent))
    keep(root, "first")
    with pytest.raises(CallRefused) as refused:
        open_state(text, root)
    assert says in str(refused.value)


@pytest.mark.parametrize("revision", ["nothing-like-it", "-x", "HEAD:placer.yaml"])
def test_a_revision_that_is_not_there_is_refused(root, revision):
    git(root, "init", "-q")
    with pytest.raises(CallRefused, match=f"git:{revision} cannot be read: "):
        open_state(f"git:{revision}", root)


def test_a_revision_before_the_shop_is_refused(root):
    subprocess.run(["git", "init", "-q", str(root.parent)], check=True)
    git(root.parent, "commit", "-q", "--allow-empty", "-m", "nothing yet")
    with pytest.raises(CallRefused, match=r"git:HEAD holds no shop.yaml of this shop"):
        open_state("git:HEAD", root)
