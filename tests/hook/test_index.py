"""The index itself, through a hook that is jobcheck alone: nothing is put away for it."""

import os
import shutil

from jobcheck.text import LARGEST_FILE
from tests.hook.conftest import bare_hook
from tests.hook.repository import Repository
from tests.hook.test_commits import BROKEN, OTHER_VALUE, PUT_RIGHT, SHARED_SLOT


def test_unstaged_changes_do_not_matter(bare: Repository) -> None:
    bare.stage(*OTHER_VALUE)
    bare.edit(*SHARED_SLOT)
    assert bare.commit().passed
    bare.git("add", ".")
    bare.edit(*PUT_RIGHT)
    done = bare.commit()
    assert done.code == 1
    assert "[feeder-slot-wrong]" in done.text


def test_files_gone_from_the_disk_alone_do_not_matter(bare: Repository) -> None:
    bare.stage(*OTHER_VALUE)
    (bare.top / "shop/parts.yaml").unlink()
    (bare.top / "shop/shop.yaml").unlink()
    assert bare.commit().passed


def test_a_commit_of_one_path_has_an_index_of_its_own(bare: Repository) -> None:
    bare.stage(*SHARED_SLOT)
    bare.edit("shop/parts.yaml", "value: 10k", "value: 10k 1%")
    assert bare.commit("--", "shop/parts.yaml").passed
    assert bare.commit("--", "shop/feeders.yaml").code == 1


def test_a_file_only_announced_is_not_committed(bare: Repository) -> None:
    bare.write("shop/jobs/next-board/job.yaml", BROKEN)
    bare.git("add", "--intent-to-add", "shop/jobs/next-board/job.yaml")
    bare.stage(*OTHER_VALUE)
    assert bare.commit().passed


def test_an_empty_file_that_is_staged_is_committed(bare: Repository) -> None:
    bare.write("shop/jobs/next-board/job.yaml", "")
    bare.git("add", ".")
    done = bare.commit()
    assert done.code == 1
    assert "shop/jobs/next-board/job.yaml:" in done.text


def test_hidden_folders_hold_no_job_in_the_index_nor_on_the_disk(bare: Repository) -> None:
    bare.write("shop/jobs/.next-board/job.yaml", BROKEN)
    assert bare.jobcheck("lint", "shop").passed
    bare.git("add", ".")
    assert bare.commit().passed


def test_commit_of_all_that_changed(bare: Repository) -> None:
    bare.edit(*SHARED_SLOT)
    assert bare.commit("--all").code == 1


def test_an_amended_commit_is_judged_by_what_is_staged(bare: Repository) -> None:
    bare.write("shop/jobs/next-board/job.yaml", BROKEN)
    assert bare.try_git("commit", "--amend", "-m", "other words").passed
    bare.stage(*SHARED_SLOT)
    assert bare.try_git("commit", "--amend", "-m", "other words").code == 1


def test_files_in_conflict_are_named(bare: Repository) -> None:
    bare.git("switch", "--quiet", "--create", "other")
    bare.stage(*OTHER_VALUE)
    bare.git("commit", "--quiet", "--no-verify", "-m", "counted")
    bare.git("switch", "--quiet", "main")
    bare.stage("shop/feeders.yaml", "remaining: 800", "remaining: 700")
    bare.git("commit", "--quiet", "--no-verify", "-m", "counted otherwise")
    assert not bare.try_git("merge", "other").passed
    done = bare.jobcheck("lint", "--staged")
    assert done.code == 2
    assert "feeders.yaml is not merged yet." in done.text
    bare.git("checkout", "--ours", "shop/feeders.yaml")
    bare.git("add", "shop/feeders.yaml")
    assert bare.jobcheck("lint", "--staged").passed


def test_links_inside_the_shop_are_followed(bare: Repository) -> None:
    shop = bare.top / "shop"
    shutil.move(shop / "jobs/first-board", shop / "shared")
    os.symlink("../shared", shop / "jobs/first-board", target_is_directory=True)
    (shop / "parts.yaml").rename(shop / "all-parts.yaml")
    os.symlink("through.yaml", shop / "parts.yaml")
    os.symlink("all-parts.yaml", shop / "through.yaml")
    bare.git("add", "--all")
    done = bare.commit()
    assert done.passed, done.text
    assert "shop, as staged: 7 files, 8 placements." in done.text


def test_links_that_lead_out_or_in_a_circle_are_refused(bare: Repository) -> None:
    shop = bare.top / "shop"
    (shop / "parts.yaml").rename(bare.top / "parts.yaml")
    os.symlink("../parts.yaml", shop / "parts.yaml")
    (shop / "feeders.yaml").unlink()
    os.symlink("feeders.yaml", shop / "feeders.yaml")
    bare.git("add", "--all")
    done = bare.commit()
    assert done.code == 1
    assert "parts.yaml is a link to no file of the shop." in done.text
    assert "feeders.yaml is a link to no file of the shop." in done.text


def test_a_file_too_large_does_not_hide_the_others(bare: Repository) -> None:
    bare.write("shop/feeders.yaml", "#" * (LARGEST_FILE + 1))
    bare.edit("shop/jobs/first-board/job.yaml", "side: top", "side: left")
    bare.git("-c", "core.compression=1", "add", ".")
    done = bare.commit()
    assert done.code == 1
    assert "feeders.yaml is larger than 64 MiB." in done.text
    assert "first-board.side" in done.text


def test_records_are_no_shops(bare: Repository) -> None:
    """Only the shop is linted, not the copy; the copies of a deleted shop are none either."""
    record = "shop/known-good/1-first"
    shutil.copytree(bare.top / "shop", bare.top / record)
    bare.write(f"{record}/shop.yaml", BROKEN)
    bare.git("add", ".")
    done = bare.jobcheck("lint", "--staged", "--format", "json")
    assert '"folder": "shop"' in done.text
    assert done.text.count('"folder"') == 1
    bare.git("commit", "--quiet", "--no-verify", "-m", "a record")
    bare.git("rm", "--quiet", "-r", "shop/[!k]*")
    done = bare.commit()
    assert done.passed
    assert "staged" not in done.text.partition("[main")[0]


def test_a_folder_whose_name_git_could_take_for_a_pattern(bare: Repository) -> None:
    (bare.top / "shop").rename(bare.top / ":shop*")
    bare.git("add", "--all")
    assert bare.commit().passed
    bare.stage(":shop*/feeders.yaml", *SHARED_SLOT[1:])
    assert bare.commit().code == 1


def test_the_shop_asked_for_is_linted_alone(bare: Repository) -> None:
    shutil.copytree(bare.top / "shop", bare.top / "lab")
    bare.edit("lab/feeders.yaml", *SHARED_SLOT[1:])
    bare.stage(*OTHER_VALUE)
    bare.git("add", "lab")
    assert bare.jobcheck("lint", "--staged", "--shop", "shop").passed
    assert bare.jobcheck("lint", "--staged", "--shop", ".", folder="lab").code == 1
    bare.git("commit", "--quiet", "--no-verify", "-m", "another shop")
    assert bare.jobcheck("lint", "--staged", "--shop", "shop").passed
    assert bare.jobcheck("lint", "--staged", "--shop", "lab").code == 1


def test_a_shop_asked_for_that_is_none(bare: Repository) -> None:
    done = bare.jobcheck("lint", "--staged", "--shop", "nowhere")
    assert done.code == 2
    assert done.text == "No shop there: no shop.yaml in nowhere.\n"


def test_a_shop_asked_for_in_a_further_work_tree(bare: Repository) -> None:
    """There git tells a hook the repository, but not the top of its work tree."""
    bare_hook(bare, "--shop shop")
    bare.git("worktree", "add", "--quiet", "../further", "-b", "further")
    further = Repository(bare.top.parent / "further", bare.environment)
    further.stage(*SHARED_SLOT)
    done = further.commit()
    assert done.code == 1
    assert "[feeder-slot-wrong]" in done.text
    further.stage(*PUT_RIGHT)
    further.stage(*OTHER_VALUE)
    assert further.commit().passed


def test_a_deleted_shop_that_is_asked_for(bare: Repository) -> None:
    bare_hook(bare, "--shop shop")
    bare.git("rm", "--quiet", "-r", "shop")
    assert not (bare.top / "shop").exists()
    assert bare.commit().passed


def test_from_a_folder_inside_the_shop(bare: Repository) -> None:
    bare.stage(*SHARED_SLOT)
    done = bare.jobcheck("lint", "--staged", folder="shop/jobs")
    assert done.code == 1
    assert "  at    ../feeders.yaml:16:11" in done.text


def test_outside_any_repository(bare: Repository) -> None:
    done = bare.jobcheck("lint", "--staged", folder="..")
    assert done.code == 2
    assert done.text.startswith("--staged needs a git repository: ")


def test_paths_beside_staged_are_refused(bare: Repository) -> None:
    done = bare.jobcheck("lint", "--staged", "shop")
    assert done.code == 2
    assert done.text == "--staged reads the index alone: give no path with it.\n"
