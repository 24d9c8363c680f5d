"""A loss is stopped, and a good change passes, by whichever way of git it comes to a commit.

Git runs no pre-commit hook where a pick, a rebase or a revert makes the commit itself
(githooks(5)): it does where the user commits on the way.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.hook.repository import Outcome, Repository
from tests.hook.test_commits import OTHER_VALUE
from tests.hook.test_records import LOST_GAIN, kept, recorded

__all__ = ["kept", "recorded"]
Change = tuple[str, str, str]


def amend(here: Repository, change: Change) -> Outcome:
    here.stage(*change)
    return here.try_git("commit", "--amend", "-m", "amended")


def commit_all(here: Repository, change: Change) -> Outcome:
    here.edit(*change)
    return here.commit("-a")


def commit_a_path(here: Repository, change: Change) -> Outcome:
    here.edit(*change)
    here.write("shop/notes.txt", "The belt was changed.\n")
    here.git("add", "shop/notes.txt")
    return here.commit("--", change[0])


def commit_staged_alone(here: Repository, change: Change) -> Outcome:
    here.stage(*change)
    here.git("restore", "--source=HEAD", "--worktree", change[0])
    return here.commit()


def pop_a_stash(here: Repository, change: Change) -> Outcome:
    here.stage(*change)
    here.edit("shop/shop.yaml", "edition: 1\n", "edition: 1\n# not staged\n")
    here.git("stash", "--quiet")
    here.git("stash", "pop", "--quiet", "--index")
    return here.commit()


def pop_what_was_staged(here: Repository, change: Change) -> Outcome:
    here.stage(*change)
    here.git("stash", "push", "--quiet", "--staged")
    here.edit("shop/shop.yaml", "edition: 1\n", "edition: 1\n# not staged\n")
    here.git("stash", "pop", "--quiet", "--index")
    return here.commit()


def commit_a_pick(here: Repository, change: Change) -> Outcome:
    here.git("switch", "--quiet", "--create", "other")
    here.stage(*change)
    here.git("commit", "--quiet", "--no-verify", "-m", "elsewhere")
    here.git("switch", "--quiet", "main")
    here.git("cherry-pick", "--no-commit", "other")
    return here.commit()


def commit_in_a_rebase(here: Repository, change: Change) -> Outcome:
    here.write("notes.txt", "The belt was changed.\n")
    here.git("add", "notes.txt")
    here.git("commit", "--quiet", "--no-verify", "-m", "a note")
    here.git("-c", "sequence.editor=sed -i s/^pick/edit/", "rebase", "-i", "--quiet", "HEAD~1")
    here.stage(*change)
    return here.commit()


def commit_in_a_submodule(here: Repository, change: Change) -> Outcome:
    above = Repository(here.top.parent / "above", here.environment)
    above.top.mkdir()
    above.git("init", "--quiet")
    source = here.top.as_uri()
    above.git("-c", "protocol.file.allow=always", "submodule", "--quiet", "add", source, "below")
    below = Repository(above.top / "below", here.environment)
    assert below.pre_commit("install").passed
    below.stage(*change)
    return below.commit()


def commit_in_a_work_tree(here: Repository, change: Change) -> Outcome:
    here.git("worktree", "add", "--quiet", "../further tree", "-b", "further")
    further = Repository(here.top.parent / "further tree", here.environment)
    further.stage(*change)
    return further.commit()


WAYS: list[Callable[[Repository, Change], Outcome]] = [
    amend,
    commit_all,
    commit_a_path,
    commit_staged_alone,
    pop_a_stash,
    pop_what_was_staged,
    commit_a_pick,
    commit_in_a_rebase,
    commit_in_a_submodule,
    commit_in_a_work_tree,
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_a_loss_is_stopped(recorded: Repository, way: Callable[..., Outcome]) -> None:
    stopped = way(recorded, LOST_GAIN)
    assert not stopped.passed
    assert stopped.hook_code == 1
    assert "[camera-settings-lost]" in stopped.text


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_a_good_change_passes(recorded: Repository, way: Callable[..., Outcome]) -> None:
    done = way(recorded, OTHER_VALUE)
    assert done.passed, done.text
    assert "No findings." in done.text, done.text


def test_a_submodule_beside_a_shop_is_committed(recorded: Repository) -> None:
    inner = Repository(recorded.top.parent / "inner", recorded.environment)
    inner.top.mkdir()
    inner.git("init", "--quiet")
    inner.git("commit", "--quiet", "--allow-empty", "-m", "nothing yet")
    add = ("-c", "protocol.file.allow=always", "submodule", "--quiet", "add", inner.top.as_uri())
    recorded.git(*add, "shop/jobs/inner")
    recorded.stage(*OTHER_VALUE)
    assert recorded.commit().passed
    recorded.stage(*LOST_GAIN)
    assert recorded.commit().hook_code == 1
