"""Kills, full disks, read-only folders, two runs at once: every file is old or new, whole."""

import os
import pathlib
import shutil
import subprocess
import sys
from dataclasses import replace

import pytest

from jobcheck.known_good.store import Records
from jobcheck.sources.state.state import folder_state
from tests import kills
from tests.kills import CASES, Case, tree

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
TOP = pathlib.Path(__file__).parent.parent


def python(*arguments: str, folder: pathlib.Path = TOP) -> subprocess.Popen[str]:
    """Start Python with the program's own folder in its path."""
    path = os.pathsep.join(filter(None, (str(TOP), os.environ.get("PYTHONPATH"))))
    return subprocess.Popen(
        [sys.executable, *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": path},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def run(case: Case, folder: pathlib.Path) -> tuple[int, str]:
    """Run a case's command in a folder; return its exit code and what it said."""
    process = python("-m", "jobcheck", *case.argv, folder=folder)
    said, _ = process.communicate()
    return process.returncode, said


def trials(*arguments: str) -> None:
    """Run trials in a process of its own: this one may have threads, which do not fork well."""
    process = python("-m", "tests.kills", *arguments)
    said, _ = process.communicate()
    assert process.returncode == 0, said
    assert " 0 failures" in said


@pytest.mark.parametrize("name", CASES)
def test_a_run_stopped_at_some_calls_leaves_whole_files_and_is_completed(name):
    trials("--case", name, "--steps", "--every", "15", "--kills", "2")


@pytest.mark.long
@pytest.mark.parametrize("name", CASES)
def test_a_run_stopped_at_each_call_leaves_whole_files_and_is_completed(name):
    trials("--case", name, "--steps")


@pytest.mark.long
@pytest.mark.parametrize("name", CASES)
def test_a_thousand_kills_leave_whole_files_and_are_completed(name):
    trials("--case", name, "--kills", "1000")


def test_a_command_that_writes_over_another_program_s_line_is_noticed(monkeypatch):
    def careless(argv, out, err):
        placer = pathlib.Path("placer.yaml")
        data = placer.read_bytes()
        file = os.open("unfinished", os.O_WRONLY | os.O_CREAT)
        os.write(file, data.replace(b"auto_exposure: 3", b"auto_exposure: 1"))
        os.close(file)
        os.replace("unfinished", placer)
        return 0

    monkeypatch.setattr(kills, "jobcheck", careless)
    with kills.trials(CASES["restore"]) as run:
        for number in range(run.calls):
            run.stop(number, kills.RACED)
    assert run.tally.trials == 4
    assert len(run.tally.failures) == 3, "only after the rename both are there"


def test_any_command_line_can_be_put_in():
    trials("--steps", "--every", "20", "--", "withdraw", "first-panel", "--because", "loose lens")


def in_place(file: pathlib.Path, data: bytes) -> None:
    """Write as no command may: without a new file."""
    file.write_bytes(data[: len(data) // 2])
    os.fsync(os.open(file, os.O_RDONLY))
    file.write_bytes(data)


def test_a_command_that_writes_in_place_is_noticed(tmp_path, monkeypatch):
    """The trials themselves can fail."""

    def careless(argv, out, err):
        placer = pathlib.Path("placer.yaml")
        in_place(placer, placer.read_bytes().replace(b"auto_exposure: 3", b"auto_exposure: 1"))
        return 0

    monkeypatch.setattr(kills, "jobcheck", careless)
    with kills.trials(CASES["restore"]) as careful:
        careful.stop(0, "before")
    assert "neither old nor new: placer.yaml" in careful.tally.failures[0]


# disks


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 2 MiB of its own; only root can have one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(disk)]
    tried = (
        subprocess.run(mount, capture_output=True, check=False) if shutil.which("mount") else None
    )
    if tried is None or tried.returncode:
        pytest.skip("a small disk cannot be mounted here: that takes root and tmpfs")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def fill(disk: pathlib.Path, left: int) -> pathlib.Path:
    """Fill a disk up to some bytes."""
    filler = disk / "filler"
    with open(filler, "wb", buffering=0) as file:
        try:
            while file.write(b"x" * 4096):
                pass
        except OSError:
            file.truncate(max(0, file.tell() - left))
    return filler


@pytest.mark.parametrize("name", CASES)
def test_a_full_disk_leaves_what_was_there(small_disk, name, tmp_path):
    case = CASES[name]
    case.prepare(tmp_path / case.shop.name)
    assert run(case, tmp_path / case.shop.name)[0] == 0
    new = tree(tmp_path / case.shop.name)
    shop = small_disk / case.shop.name
    case.prepare(shop)
    old = tree(shop)
    for left in (0, 1, 4, 9):
        filler = fill(small_disk, left * 4096)
        code, said = run(case, shop)
        filler.unlink()
        if code == 0:
            break
        there = {name: data for name, data in tree(shop).items() if name not in case.ahead}
        assert (code, there) == (2, old), said
        assert "was not written: the disk is full." in " ".join(said.split())
    else:
        assert run(case, shop)[0] == 0
    assert left > 0, "the disk was not full"
    assert tree(shop) == new


@pytest.mark.parametrize("name", CASES)
def test_a_read_only_disk_is_told_and_nothing_changes(small_disk, name):
    case = CASES[name]
    shop = small_disk / case.shop.name
    case.prepare(shop)
    old = tree(shop)
    remount = ["mount", "-o", "remount,ro", str(small_disk)]
    subprocess.run(remount, check=True)
    code, said = run(case, shop)
    assert (code, tree(shop)) == (2, old), said
    assert "its disk is read-only" in " ".join(said.split())


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize(("limit", "says"), [("f", "file too large"), ("n", "too many open files")])
def test_what_the_system_limits_is_told_and_nothing_changes(tmp_path, name, limit, says):
    """Files of no bytes at all (`ulimit -f`); one file more than the standard streams (`-n`)."""
    case = CASES[name]
    shop = tmp_path / case.shop.name
    case.prepare(shop)
    old = tree(shop)
    what, at_most = {"f": ("FSIZE", 0), "n": ("NOFILE", 4)}[limit]
    # not by the shell: what else is installed may need a file to start Python at all
    code = (
        "import resource; from jobcheck.cli.process import run;"
        f"resource.setrlimit(resource.RLIMIT_{what}, ({at_most}, {at_most})); run()"
    )
    environment = {**os.environ, "PYTHONPATH": str(TOP), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code, *case.argv],
        cwd=shop,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, tree(shop)) == (2, old), done.stderr
    assert says in " ".join(done.stderr.split()).lower()


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="modes do not hold for root"
)
@pytest.mark.parametrize("name", CASES)
def test_a_read_only_folder_is_told_and_nothing_changes(tmp_path, name):
    case = CASES[name]
    shop = tmp_path / case.shop.name
    case.prepare(shop)
    old = tree(shop)
    folders = [shop, *(folder for folder in shop.rglob("*") if folder.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    code, said = run(case, shop)
    for folder in folders:
        folder.chmod(0o755)
    assert (code, tree(shop)) == (2, old), said
    assert "you are not allowed to write there" in " ".join(said.split())


# two runs at once


def at_once(folder: pathlib.Path, *cases: Case) -> list[tuple[int, str]]:
    """Run several commands in one shop at the same time."""
    running = [python("-m", "jobcheck", *case.argv, folder=folder) for case in cases]
    said = [process.communicate()[0] for process in running]
    return list(zip((process.returncode for process in running), said, strict=True))


def restoring(*selections: str) -> Case:
    return replace(CASES["restore"], argv=("restore", *selections, "--write"))


@pytest.mark.parametrize("turn", range(2))
def test_two_runs_of_one_restore(tmp_path, turn):
    case = CASES["restore"]
    for name in ("alone", "together"):
        case.prepare(tmp_path / name)
    assert run(case, tmp_path / "alone")[0] == 0
    for code, said in at_once(tmp_path / "together", case, case):
        assert code == 0 or (code == 2 and "changed after it was read" in said), said
    assert tree(tmp_path / "together") == tree(tmp_path / "alone")


@pytest.mark.parametrize("turn", range(2))
def test_two_restores_of_one_file_lose_nothing(tmp_path, turn):
    one, other = (
        restoring("cameras.up.controls.gain"),
        restoring("cameras.up.controls.auto_exposure"),
    )
    for name in ("alone", "together"):
        one.prepare(tmp_path / name)
    for case in (one, other):
        assert run(case, tmp_path / "alone")[0] == 0
    for case, (code, said) in zip(
        (one, other), at_once(tmp_path / "together", one, other), strict=True
    ):
        if code:  # the other came first: it says so, and nothing of the other's is undone
            assert "changed after it was read" in " ".join(said.split())
            assert run(case, tmp_path / "together")[0] == 0
    assert tree(tmp_path / "together") == tree(tmp_path / "alone")


@pytest.mark.parametrize("turn", range(2))
def test_two_records_at_once_are_both_whole(tmp_path, turn):
    keep = CASES["keep"]
    keep.prepare(tmp_path / "shop")
    named = [
        replace(keep, argv=tuple(w.replace("another", name) for w in keep.argv)) for name in "ab"
    ]
    ends = at_once(tmp_path / "shop", *named)
    assert 0 in [code for code, _ in ends]
    assert {code for code, _ in ends} <= kills.DONE, ends
    records = Records(folder_state(tmp_path / "shop"))
    for entry in records.entries:
        records.open(records.read(entry))
    numbers = [entry.number for entry in records.entries]
    assert len(set(numbers)) == len(numbers) >= 4
