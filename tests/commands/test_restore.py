"""Restores of what is gone as a whole: blocks, files, and files that are no longer understood."""

import io
import re
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
    assert f"placer.yaml:{line}:1: A tab is in the place of spaces." in shown
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
    start = text.index("  f07:")
    changed = text[start:].replace("advance_mm: 4", "advance_mm: 8", 1).replace("117.2", "117.4")
    feeders.write_text(text[:start] + changed)
    _, shown = call("restore", "feeders.f07", "--write")
    assert "What was put back is as in record 3" in shown
    assert "feeders.f07.pick.x" in shown


F07 = "  f07:\n    row: front\n    slot: 7\n"
PICK = "pick: {x: 117.2, y: 8.1, z: -18.05, rotation: 0}"


def edit(path: FilePath, *pairs: tuple[str, str]) -> None:
    text = path.read_text()
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text)


def test_a_measurement_takes_its_own_day_with_it(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    dated = PICK.replace("rotation: 0", "rotation: 0, measured: 2026-10-01")
    edit(feeders, (PICK, dated))
    edit(feeders, (dated, dated.replace("117.2", "117.25")))
    dated = dated.replace("117.2", "117.25")
    code, said = call("keep", "--label", "dated")
    assert code == 0, said
    good = feeders.read_bytes()
    later = dated.replace("2026-10-01", "2026-11-20").replace("-18.05", "-18.2")
    edit(feeders, (dated, later))
    assert call("restore", "feeders.f07.pick.z", "--write")[0] == 0
    assert feeders.read_bytes() == good


def test_a_day_that_is_newer_than_the_record_goes_with_its_value(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    good = feeders.read_bytes()
    later = "pick: {x: 117.9, y: 8.1, z: -18.05, rotation: 0, measured: 2026-11-20}"
    edit(feeders, (PICK, later))
    assert call("restore", "feeders.f07.pick.x", "--write")[0] == 0
    assert feeders.read_bytes() == good


def test_a_slot_and_its_pick_go_back_together(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    good = feeders.read_bytes()
    for selection in ("feeders.f07.pick", "feeders.f07.slot", "feeders.f07"):
        feeders.write_bytes(good)
        edit(
            feeders,
            (F07, F07.replace("slot: 7", "slot: 40")),
            (PICK, PICK.replace("117.2", "645.2")),
        )
        assert call("restore", selection, "--write")[0] == 0
        assert feeders.read_bytes() == good, selection


def test_a_slot_that_another_feeder_has_stays_and_it_is_said_why(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    edit(
        feeders,
        (F07, F07.replace("slot: 7", "slot: 40")),
        ("  f08:\n    row: front\n    slot: 8\n", "  f08:\n    row: front\n    slot: 7\n"),
        (PICK, PICK.replace("117.2", "645.2")),
    )
    _, shown = call("restore", "feeders.f07.pick", "--write")
    assert "feeders.f07.slot stays 40: f08 is in slot 7 now." in shown
    assert PICK in feeders.read_text()
    assert "    slot: 40\n" in feeders.read_text()


def test_a_stamp_and_its_day_go_back_together(root: FilePath) -> None:
    parts = root / "parts.yaml"
    good = parts.read_text()
    stamp = re.findall(r"tuned: (\S+), tuned_under: (k-\w+)", good)
    day, key = stamp[0] if stamp else (None, re.findall(r"tuned_under: (k-\w+)", good)[0])
    changed = good.replace(key, "k-000000000000", 1)
    changed = changed.replace(f"tuned: {day}", "tuned: 2026-11-24", 1) if day else changed
    parts.write_text(changed)
    name = next(
        line.split(":")[0].strip()
        for line in good.splitlines()[good[: good.index(key)].count("\n") :: -1]
        if re.match(r"  \S+:", line)
    )
    assert call("restore", f"recognitions.{name}.tuned_under", "--write")[0] == 0
    assert parts.read_text() == good


def test_an_entry_that_is_gone_comes_back_whole_without_its_count(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    edit(feeders, ("  f07:\n", "  # the noisy one\n  f07:\n    note: bearing replaced\n"))
    assert call("keep", "--label", "noted")[0] == 1
    edit(feeders, ("note: bearing replaced\n", "note: bearing replaced\n"), (PICK, PICK))
    recorded = feeders.read_text()
    (root / "known-good/4-noted").mkdir(exist_ok=True)
    shutil.rmtree(root / "known-good/4-noted")
    edit(feeders, (PICK, PICK.replace("117.2", "117.25")))
    assert call("keep", "--label", "noted")[0] == 0
    recorded = feeders.read_text()
    start, end = recorded.index("  # the noisy one"), recorded.index("  f08:")
    feeders.write_text(recorded[:start] + recorded[end:])
    assert call("restore", "feeders.f07", "--write")[0] == 0
    block = recorded[start:end]
    assert feeders.read_text() == recorded.replace(
        block, "".join(line for line in block.splitlines(True) if "remaining" not in line)
    )


def test_the_day_on_which_a_camera_was_seen_goes_only_with_a_control(root: FilePath) -> None:
    machine = root / "placer.yaml"
    edit(machine, ("  up:\n    aim: up\n", "  up:\n    seen: 2026-11-20\n    aim: up\n"))
    light = "    light: {channel: ring-up, percent: 55}\n"
    edit(machine, (light, light.replace("55", "60")))
    assert call("restore", "cameras.up", "--write")[0] == 0
    assert "seen: 2026-11-20" in machine.read_text()
    edit(machine, ("      gain: 4\n", "      gain: 5\n"))
    assert call("restore", "cameras.up", "--write")[0] == 0
    assert "seen:" not in machine.read_text()


def test_entries_of_a_file_that_is_no_longer_named_are_not_written_into_another(
    root: FilePath,
) -> None:
    feeders, shop = root / "feeders.yaml", root / "shop.yaml"
    text = feeders.read_text()
    start = text.index("  f30:")
    feeders.write_text(text[:start])
    (root / "more.yaml").write_text(f"describes: feeders\nedition: 1\nfeeders:\n{text[start:]}")
    named = "feeders: [feeders.yaml, more.yaml]"
    edit(shop, ("feeders: [feeders.yaml]", named), ("attrition_percent: 3", "attrition_percent: 4"))
    assert call("keep", "--label", "two files")[0] == 0
    edit(shop, (named, "feeders: [feeders.yaml]"))
    code, said = call("restore", "feeders.f31", "--write")
    assert code == 2
    assert "feeders.f31 was in more.yaml, which is no longer named in shop.yaml." in said
    assert "restore shop.feeders" in said
    code, said = call("restore", "shop.feeders", "--write")
    assert code == 0, said
    assert named in shop.read_text()
    assert call("diff")[0] == 0
