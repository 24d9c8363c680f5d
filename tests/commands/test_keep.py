"""What a keep says of a state that has less than the record before it."""

import io
import re
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main
from tests.support.edited import measured_starter

PICK = "    pick: {x: 117.2, y: 8.1, z: -18.05, rotation: 0}\n"


def keep(*words: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    return main(["keep", "--label", "x", *words], out, err), out.getvalue() + err.getvalue()


def edit(path: FilePath, old: str, new: str) -> None:
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))


def test_what_the_last_record_had_and_this_one_has_not_is_named(root: FilePath) -> None:
    machine = root / "placer.yaml"
    machine.write_text(re.sub(r"(?m)^mains_hz:.*\n", "", machine.read_text()))
    code, said = keep()
    assert code == 0
    assert "Without what record 3, after-lens-swap, 2026-10-02 had: mains_hz." in said
    assert "stands" not in said


def test_a_pick_that_is_gone_is_not_recorded(root: FilePath) -> None:
    edit(root / "feeders.yaml", PICK, "")
    code, said = keep()
    assert code == 1
    assert "jobcheck restore feeders.f07.pick" in said


def test_warnings_that_stand_are_named(root: FilePath) -> None:
    edit(root / "placer.yaml", "      gain: 4\n", "      gain: 5\n")
    assert "1 warning is open: recognition-tuning-stale." in keep()[1]


def test_what_was_lost_on_purpose_is_told_once(root: FilePath) -> None:
    edit(root / "placer.yaml", "      gain: 4\n", "")
    code, said = keep("--on-purpose", "cameras.up")
    assert code == 0
    assert said.count("cameras.up") == 1
    assert "Without what" not in said


def test_a_purpose_that_is_recorded_already_is_no_mistake(root: FilePath) -> None:
    edit(root / "placer.yaml", "      gain: 4\n", "")
    assert keep("--on-purpose", "cameras.up")[0] == 0
    code, said = keep("--on-purpose", "cameras.up")
    assert said.startswith("Nothing recorded: settings and measurements are those of record 4")
    assert code != 2


def show_history() -> str:
    out, err = io.StringIO(), io.StringIO()
    assert main(["history"], out, err) == 0
    return out.getvalue()


def test_an_accepted_error_is_named_to_be_kept_and_is_in_the_record(root: FilePath) -> None:
    edit(root / "feeders.yaml", PICK, "")
    code, said = keep()
    assert code == 1
    rule = re.findall(r"\[([a-z-]+)\]", said)[0]
    path = re.findall(r"\d+:\d+  (\S+)  \[", said)[0]
    with (root / "shop.yaml").open("a") as file:
        file.write(f"accepted:\n  {rule}:\n    {path}: {{because: no time, until: 2027-01-01}}\n")
    code, said = keep("--as-of", "2026-11-25")
    assert code == 1
    assert "A record names each accepted error. Not named: 1\n" in said
    assert f"--accepted {rule}" in said
    code, said = keep("--as-of", "2026-11-25", "--accepted", rule)
    assert code == 0
    assert f"Accepted errors: {rule} {path}." in said
    assert f"accepted errors: {rule} {path}" in show_history()
    assert keep("--accepted", "entries-unused")[0] in (1, 2)


def test_stamps_disabled_rules_and_looser_limits_are_in_the_record(root: FilePath) -> None:
    edit(root / "placer.yaml", "      gain: 4\n", "      gain: 5\n")
    with (root / "shop.yaml").open("a") as file:
        file.write("disabled: {fiducial-unsuitable: the jig has room}\n")
    main(["retuned", "recognitions", "--write"], io.StringIO(), io.StringIO())
    code, said = keep()
    assert code == 0
    assert "Stamped on your word: recognitions." in said
    listed = " ".join(show_history().split())
    assert "fiducial-unsuitable is disabled: the jig has room" in listed
    assert "limits.stencil_life_h is 10, by default 8" in listed


def test_jobs_that_are_gone_on_purpose_are_named(root: FilePath) -> None:
    edit(root / "shop.yaml", "jobs: [jobs/*/job.yaml]", "jobs: []")
    code, said = keep()
    assert code == 1
    assert "file-no-longer-named" in said
    code, said = keep("--on-purpose", "shop.jobs")
    assert code == 0
    assert "Lost on purpose: shop.jobs." in said
    assert keep("--on-purpose", "cameras.up")[1].startswith("Nothing recorded")


def test_a_list_that_was_cut_off_on_purpose_is_named(root: FilePath) -> None:
    rows = root / "jobs/soil-logger/placements.csv"
    bill = root / "jobs/soil-logger/bill.csv"
    bill.write_text(bill.read_text().splitlines(True)[0])
    rows.write_text("".join(rows.read_text().splitlines(True)[:-5]))
    code, said = keep()
    assert code == 1
    assert "list-rows-lost" in said
    code, said = keep("--on-purpose", "jobs.soil-logger.placements")
    assert code == 0, said
    assert "Lost on purpose: jobs.soil-logger.placements." in said


def test_a_part_that_is_no_longer_polarised_on_purpose_is_named(root: FilePath) -> None:
    parts = root / "parts.yaml"
    text = parts.read_text()
    start = text.index("  sod-123:")
    meant = "polarised: false\n    same_turned_deg: 180"
    parts.write_text(text[:start] + text[start:].replace("polarised: true", meant, 1))
    code, said = keep()
    assert code == 1
    assert "keep --label TEXT --on-purpose outlines.sod-123.polarised" in said
    code, said = keep("--on-purpose", "outlines.sod-123.polarised")
    assert code == 0, said


def test_the_proposed_call_repeats_what_was_typed(root: FilePath) -> None:
    """Both cameras lost their gain and one loss is named: what is pasted names both."""
    edit(root / "placer.yaml", "      gain: 4\n", "")
    edit(root / "placer.yaml", "      gain: 8\n", "")
    code, said = keep("--note", "no lamp", "--on-purpose", "cameras.head")
    assert code == 1
    proposed = (
        "jobcheck keep --label x --note 'no lamp' --on-purpose cameras.head --on-purpose cameras.up"
    )
    assert f"  {proposed}\n" in said
    words = proposed.removeprefix("jobcheck keep --label x ").replace("'no lamp'", "none").split()
    assert keep(*words)[0] == 0


def test_a_value_of_the_starter_is_not_recorded_until_its_mark_is_gone(
    tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch
) -> None:
    measured_starter(tmp_path / "shop")
    monkeypatch.chdir(tmp_path / "shop")
    machine = tmp_path / "shop" / "placer.yaml"
    measured = machine.read_text()
    machine.write_text(measured + "derived: {travel: starter}\n")
    code, said = keep()
    assert code == 1
    assert "1 value is invented by `jobcheck new` (starter):\n  travel\nMeasure" in said
    assert not (tmp_path / "shop" / "known-good").exists()
    machine.write_text(measured)
    assert keep()[0] == 0


def test_a_new_shop_is_not_recorded(tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new"], io.StringIO(), io.StringIO()) == 0
    code, said = keep()
    assert code == 1
    assert "\n  jobs.first-board.seat\n" in said
