"""What a second process reads is what this one would have read."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from jobcheck.description.text_keys import TEXT_KEYS
from jobcheck.sources import reading_ahead
from jobcheck.sources.reading_ahead import LARGE, ReadingAhead, read_ahead
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state import HeldFiles, State
from jobcheck.sources.yaml_reader import read_yaml
from tests.generate import AS_OF, Size, make_files, save

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="it is done on Linux alone")

JOB = "jobs/board-1/job.yaml"


@pytest.fixture(name="files", scope="module")
def _files() -> dict[str, bytes]:
    files = make_files(3, Size(placements=1200, parts=20, inline=True))
    assert len(files[JOB]) > LARGE
    return files


@pytest.fixture(name="possible", autouse=True)
def _possible(monkeypatch) -> None:
    """Pytest's own threads, and a machine of one core, would forbid it."""
    monkeypatch.setattr(reading_ahead, "_is_possible", lambda: True)


def state(files: dict[str, bytes]) -> State:
    return State("here", HeldFiles(files), "bench")


def test_a_document_is_as_it_is_read_here(files):
    ahead = ReadingAhead({JOB: ("job", files[JOB])})
    brought = ahead.document(JOB, "job", files[JOB])
    here = read_yaml(files[JOB], JOB, TEXT_KEYS["job"])
    assert brought is not None
    assert repr(brought.plain) == repr(here.plain)
    table = brought.table
    for name in ("starts", "ends", "values", "closes", "empty", "targets", "merges"):
        assert getattr(table, name) == getattr(here.table, name)
    assert table.values[0] is brought.plain
    for path in ((), ("placements", "R1"), ("placements", "R1", "x"), ("seat", "lost")):
        assert table.place(path) == here.table.place(path)


def test_other_bytes_another_kind_and_other_names_are_not_taken_for_it(files):
    ahead = ReadingAhead({JOB: ("job", files[JOB])})
    assert ahead.document(JOB, "job", files[JOB] + b"\n") is None
    assert ahead.document(JOB, "parts", files[JOB]) is None
    assert ahead.document("job.yaml", "job", files[JOB]) is None
    assert ahead.document(JOB, "job", files[JOB]) is not None


@pytest.mark.parametrize(
    "data",
    [
        b"describes: job\nx: &a {y: 1}\nz: *a\n",
        b"describes: job\nx: &a {y: 1}\nz: {<<: *a}\n",
        b"describes: job\ndescribes: job\n",
        b"describes: [job\n",
        b"\xff\xfe",
        b"",
    ],
)
def test_aliases_and_faults_are_left_to_this_process(data):
    assert ReadingAhead({"x": ("job", data)}).document("x", "job", data) is None


def test_a_second_process_that_dies_brings_nothing(files):
    ahead = ReadingAhead({JOB: ("job", files[JOB])})
    os.kill(ahead._reader, signal.SIGKILL)
    assert ahead.document(JOB, "job", files[JOB]) is None


def test_where_nobody_is_told_how_children_end_the_file_is_read_here(files):
    before = signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    try:
        assert ReadingAhead({JOB: ("job", files[JOB])}).document(JOB, "job", files[JOB]) is None
    finally:
        signal.signal(signal.SIGCHLD, before)


@pytest.mark.parametrize("without", ["fork", "pipe"])
def test_without_a_process_or_a_pipe_the_shop_is_read_here(files, without, monkeypatch):
    def refused() -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(os, without, refused)
    assert read_ahead(state(files)).ahead is None


def test_only_large_files_are_worth_it(files):
    small = {name: data[:LARGE] for name, data in files.items() if name != JOB}
    assert read_ahead(state(small)).ahead is None
    assert read_ahead(state(files)).ahead is not None
    assert read_ahead(state({})).ahead is None
    assert read_ahead(state({"shop.yaml": b"describes: [shop\n"})).ahead is None
    assert read_ahead(state({"shop.yaml": b"parts: {a: 1}\njobs: [1]\n"})).ahead is None


def test_the_shop_is_the_same(files):
    for damage in (b"", b"\nside: left\n", b"\nx: [\n", b"\nR1: {}\n"):
        damaged = {**files, JOB: files[JOB] + damage}
        here, ahead = read_shop(state(damaged)), read_shop(read_ahead(state(damaged)))
        assert (here.faults, here.shop) == (ahead.faults, ahead.shop)


def test_the_command_says_the_same_on_one_core(files, tmp_path):
    wrong = files[JOB].replace(b"rotation: 270", b"rotation: 271", 1)
    save({**files, JOB: wrong}, tmp_path)
    said = []
    for cores in (os.sched_getaffinity(0), {min(os.sched_getaffinity(0))}):
        code = (
            f"import os; os.sched_setaffinity(0, {cores}); import sys;"
            f"sys.argv[1:] = ['lint', '--format', 'json', '--as-of', '{AS_OF}'];"
            "from jobcheck.cli.process import run; run()"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
        )
        assert done.stderr == ""
        said.append(json.loads(done.stdout))
    assert said[0] == said[1]
    assert said[0]["shops"][0]["findings"]


def test_nobody_waits_for_what_nobody_asks_for(files, tmp_path):
    save(files, tmp_path)
    code = (
        "import os, pathlib; from jobcheck.sources import reading_ahead, state;"
        "ahead = reading_ahead.read_ahead(state.folder_state(pathlib.Path.cwd())).ahead;"
        "print(ahead._reader, flush=True); os._exit(0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        timeout=30,  # it would hold this pipe open for ever
    )
    for _ in range(300):
        try:
            os.kill(int(done.stdout), 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    raise AssertionError("it still runs")
