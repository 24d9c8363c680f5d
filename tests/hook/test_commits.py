"""Commits through pre-commit: which are stopped, which pass, and what each of them says."""

import shutil

from tests.hook.repository import Repository

SHARED_SLOT = ("shop/feeders.yaml", "    slot: 2\n", "    slot: 1\n")
PUT_RIGHT = ("shop/feeders.yaml", "    slot: 1\n    part: 100n", "    slot: 2\n    part: 100n")
FEEDER = """\
  {name}:
    row: front
    slot: 6
    part: 10k-0603
    carrier: tape
    tape: {{width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pockets_per_advance: 1}}
    pick: {{x: 100.1, y: 8.1, z: -18.2, rotation: 0}}
    remaining: 3400
"""
UNEVEN = ("shop/placer.yaml", "y: 0.0202, at_z", "y: 0.0212, at_z")
OTHER_VALUE = ("shop/feeders.yaml", "remaining: 800", "remaining: 750")
BROKEN = "describes: job\nedition: 1\nside: [\n"


def test_a_good_commit_passes_and_says_what_was_checked(repository: Repository) -> None:
    repository.stage(*OTHER_VALUE)
    done = repository.commit()
    assert done.passed
    assert "Passed" in done.text
    assert "shop, as staged: 7 files, 8 placements." in done.text
    assert repository.commits == 2


def test_a_bad_commit_is_stopped_until_it_is_put_right(repository: Repository) -> None:
    repository.stage(*SHARED_SLOT)
    done = repository.commit()
    assert not done.passed
    assert done.hook_code == 1
    assert "  at    shop/feeders.yaml:16:11" in done.text
    assert "[feeder-slot-wrong]" in done.text
    assert repository.commits == 1
    repository.stage(*PUT_RIGHT)
    repository.stage(*OTHER_VALUE)
    assert repository.commit().passed


def test_warnings_are_shown_although_the_commit_passes(repository: Repository) -> None:
    repository.stage(*UNEVEN)
    done = repository.commit()
    assert done.passed
    assert "Warning: " in done.text
    assert "[camera-scale-contradicted]" in done.text
    assert repository.commits == 2


def test_deleting_a_described_file_is_stopped(repository: Repository) -> None:
    repository.git("rm", "--quiet", "shop/parts.yaml")
    done = repository.commit()
    assert not done.passed
    assert "parts.yaml does not exist." in done.text
    assert "  at    shop/shop.yaml:5:9" in done.text


def test_deleting_the_root_file_alone_is_stopped(repository: Repository) -> None:
    repository.git("rm", "--quiet", "shop/shop.yaml")
    done = repository.commit()
    assert not done.passed
    assert "shop.yaml does not exist." in done.text


def test_deleting_the_whole_shop_passes(repository: Repository) -> None:
    repository.git("rm", "--quiet", "-r", "shop")
    assert repository.commit().passed
    assert repository.commits == 2


def test_moving_the_whole_shop_passes(repository: Repository) -> None:
    repository.git("mv", "shop", "bench")
    done = repository.commit()
    assert done.passed
    assert "bench, as staged: 7 files" in done.text
    assert "does not exist" not in done.text


def test_bad_in_the_work_tree_but_good_in_the_index_passes(repository: Repository) -> None:
    repository.stage(*OTHER_VALUE)
    repository.edit(*SHARED_SLOT)
    assert repository.commit().passed
    assert "slot: 1\n    part: 100n" in (repository.top / "shop/feeders.yaml").read_text()


def test_good_in_the_work_tree_but_bad_in_the_index_is_stopped(repository: Repository) -> None:
    repository.stage(*SHARED_SLOT)
    repository.git("show", "HEAD:shop/feeders.yaml")
    repository.git("restore", "--source=HEAD", "--worktree", "shop/feeders.yaml")
    done = repository.commit()
    assert done.hook_code == 1
    assert "[feeder-slot-wrong]" in done.text


def test_an_untracked_bad_file_matters_only_once_it_is_added(repository: Repository) -> None:
    repository.write("shop/jobs/next-board/job.yaml", BROKEN)
    repository.stage(*OTHER_VALUE)
    assert repository.commit().passed
    repository.git("add", "shop/jobs")
    done = repository.commit()
    assert done.hook_code == 2
    assert "shop/jobs/next-board/job.yaml:" in done.text


def test_all_files_with_nothing_staged_reads_the_files(repository: Repository) -> None:
    repository.edit(*SHARED_SLOT)
    done = repository.pre_commit("run", "--all-files")
    assert done.hook_code == 1
    assert "shop: whole shop checked, 7 files, 8 placements." in done.text
    assert "[feeder-slot-wrong]" in done.text


def test_a_commit_of_one_path_is_judged_by_what_it_commits(repository: Repository) -> None:
    repository.stage(*SHARED_SLOT)
    repository.write("shop/notes.txt", "The belt was changed.\n")
    repository.git("add", "--intent-to-add", "shop/notes.txt")
    assert repository.commit("--", "shop/notes.txt").passed
    assert repository.commit("--", "shop/feeders.yaml").hook_code == 1
    assert repository.commits == 2


def test_a_shop_in_the_top_folder(repository: Repository) -> None:
    for path in (repository.top / "shop").iterdir():
        shutil.move(path, repository.top)
    repository.git("add", "--all")
    repository.stage(*[part.removeprefix("shop/") for part in SHARED_SLOT])
    done = repository.commit()
    assert done.hook_code == 1
    assert "  at    feeders.yaml:16:11" in done.text


def test_of_two_shops_only_the_touched_one_is_linted(repository: Repository) -> None:
    shutil.copytree(repository.top / "shop", repository.top / "lab/second")
    repository.edit("lab/second/feeders.yaml", *SHARED_SLOT[1:])
    repository.git("add", ".")
    repository.git("commit", "--quiet", "--no-verify", "-m", "a second shop, bad already")
    repository.stage(*OTHER_VALUE)
    done = repository.commit()
    assert done.passed
    assert "shop, as staged" in done.text
    assert "second" not in done.text
    repository.stage("lab/second/feeders.yaml", "remaining: 800", "remaining: 700")
    done = repository.commit()
    assert done.hook_code == 1
    assert "  at    lab/second/feeders.yaml:16:11" in done.text
    assert "\nshop, as staged" not in done.text


def test_a_commit_that_touches_no_shop_says_nothing(repository: Repository) -> None:
    repository.write("shopping.txt", "solder\n")
    repository.git("add", "shopping.txt")
    done = repository.commit()
    assert done.passed
    assert "as staged" not in done.text
    assert "checked" not in done.text


def test_the_first_commit_of_all(repository: Repository) -> None:
    repository.git("update-ref", "-d", "HEAD")
    repository.stage(*SHARED_SLOT)
    assert repository.commit().hook_code == 1
    assert repository.commits == 0
    repository.stage(*PUT_RIGHT)
    assert repository.commit().passed
    assert repository.commits == 1


def test_names_with_spaces_and_letters_of_any_script(repository: Repository) -> None:
    repository.git("mv", "shop", "Werkstatt für [Böden] 作業")
    folder = "Werkstatt für [Böden] 作業"
    repository.git("mv", f"{folder}/jobs/first-board", f"{folder}/jobs/erste Lage")
    repository.git("mv", f"{folder}/feeders.yaml", f"{folder}/Zuführer 1.yaml")
    repository.stage(f"{folder}/shop.yaml", "[feeders.yaml]", "['Zuführer 1.yaml']")
    repository.stage(f"{folder}/Zuführer 1.yaml", *SHARED_SLOT[1:])
    done = repository.commit()
    assert done.hook_code == 1
    assert f"  at    {folder}/Zuführer 1.yaml:16:11" in done.text


def test_a_merge_is_judged_by_its_result(repository: Repository) -> None:
    """Each branch is good alone; together two feeders stand in one slot, and git sees no conflict.

    Then the merge is made by hand, and passes.
    """
    first, last = "feeders:\n", "remaining: 500\n"
    repository.git("switch", "--quiet", "--create", "other")
    repository.stage("shop/feeders.yaml", first, first + FEEDER.format(name="f06"))
    repository.git("commit", "--quiet", "--no-verify", "-m", "a feeder more")
    repository.git("switch", "--quiet", "main")
    repository.stage("shop/feeders.yaml", last, last + FEEDER.format(name="f07"))
    repository.git("commit", "--quiet", "--no-verify", "-m", "a feeder more")
    done = repository.try_git("merge", "--no-edit", "other")
    assert not done.passed
    assert done.hook_code == 1
    assert "[feeder-slot-wrong]" in done.text
    repository.stage("shop/feeders.yaml", FEEDER.format(name="f06"), "")
    assert repository.commit().passed
    assert repository.git("rev-list", "--count", "--merges", "HEAD").strip() == "1"


def test_a_commit_in_a_further_work_tree(repository: Repository) -> None:
    repository.git("worktree", "add", "--quiet", "../further tree", "-b", "further")
    further = Repository(repository.top.parent / "further tree", repository.environment)
    repository.stage(*SHARED_SLOT)  # staged in the first work tree, not in this one
    further.stage(*OTHER_VALUE)
    assert further.commit().passed
    further.stage(*SHARED_SLOT)
    done = further.commit()
    assert done.hook_code == 1
    assert "  at    shop/feeders.yaml:16:11" in done.text
