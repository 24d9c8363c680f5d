"""Restores of what is gone as a whole: blocks, files, and files that are no longer understood."""

import io
import shlex
import shutil
from pathlib import Path as FilePath

from jobcheck.cli.main import main


def call(*words: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    return main(words, out, err), out.getvalue() + err.getvalue()


def test_a_job_that_is_gone_goes_back_so_that_it_is_understood(root: FilePath) -> None:
    """Its planned run is a count, but a job without it is no job."""
    job = (root / "jobs/soil-logger/job.yaml").read_bytes()
    shutil.rmtree(root / "jobs")
    assert call("restore", "jobs", "--write")[0] == 0
    assert (root / "jobs/soil-logger/job.yaml").read_bytes() == job
    assert call("diff")[0] == 0


def test_a_file_that_is_gone_is_previewed_as_a_whole(root: FilePath) -> None:
    (root / "feeders.yaml").unlink()
    _, shown = call("restore", "feeders")
    assert shown.count("(missing)") == 1
    assert "the whole file, as recorded, without counts" in shown


def test_a_lost_feeder_goes_back_with_the_words_for_what_the_machine_moves_by(
    root: FilePath,
) -> None:
    text = (root / "feeders.yaml").read_text()
    start, end = text.index("  f07:"), text.index("  f08:")
    (root / "feeders.yaml").write_text(text[:start] + text[end:])
    _, shown = call("restore", "feeders.f07", "--write")
    assert "Make the first move to this place" in shown


def test_a_file_that_is_not_understood_is_named_with_its_fault_and_its_copy(
    root: FilePath,
) -> None:
    machine = root / "placer.yaml"
    good = machine.read_bytes()
    machine.write_bytes(good.replace(b"      gain: 4\n", b"\t    gain: 4\n"))
    code, shown = call("restore", "cameras.up", "--write")
    assert code == 2
    line = good[: good.index(b"      gain: 4\n")].count(b"\n") + 1
    assert f"placer.yaml:{line}:1: A tab stands where spaces are expected." in shown
    words = next(line for line in shown.splitlines() if line.startswith("  cp ")).split()
    shutil.copy(words[1], words[2])
    assert machine.read_bytes() == good


def test_what_is_to_be_pasted_is_quoted(root: FilePath) -> None:
    rows = root / "jobs/soil-logger/placements.csv"
    text = rows.read_text()
    rows.write_text(text.replace("C1,cap-10u-0805,16.10,", '"J 1",cap-10u-0805,17.10,', 1))
    other = root.parent / "my old shop"
    shutil.copytree(root, other)
    rows.write_text(rows.read_text().replace("17.10", "18.10"))
    path = 'jobs.soil-logger.placements."J 1"'
    _, shown = call("restore", path, "--from", str(other))
    words = shlex.split(shown.splitlines()[shown.splitlines().index("To write it") + 1])
    assert words == ["jobcheck", "restore", path, "--from", str(other), "--write"]


def test_what_is_left_as_it_is_is_not_called_as_in_the_record(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    text = feeders.read_text()
    feeders.write_text(text.replace("    slot: 7\n", "    slot: 9\n").replace("117.2", "149.2"))
    _, shown = call("restore", "feeders.f07", "--write")
    assert "What was put back is as in record 3" in shown
    assert "feeders.f07.pick.x" in shown
