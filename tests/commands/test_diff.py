"""Diffs narrowed to selections, between other states than usual, and of long paths."""

import io
import re
from pathlib import Path as FilePath

from jobcheck.cli.main import main

MACHINE, LIST = "placer.yaml", "jobs/soil-logger/placements.csv"


def diff(*words: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    code = main(["diff", *words], out, err)
    assert all(len(line) <= 80 for line in out.getvalue().splitlines())
    return code, out.getvalue() + err.getvalue()


def put(file: str, old: str, new: str) -> None:
    text = FilePath(file).read_text()
    assert text.count(old) == 1
    FilePath(file).write_text(text.replace(old, new))


def test_a_selection_with_a_list_in_it_is_told_once(root: FilePath) -> None:
    put(MACHINE, "field_mm: [23.3, 13.1]", "field_mm: [23.4, 13.1]")
    code, shown = diff("--only", "cameras", "--only", "cameras.up.field_mm")
    assert code == 1
    assert shown.count("cameras.up.field_mm  [23.3, 13.1]  [23.4, 13.1]") == 1


def test_what_a_selection_leaves_out_is_not_called_unchanged(root: FilePath) -> None:
    put(MACHINE, "      gain: 4\n", "")
    code, shown = diff("--only", "feeders")
    assert code == 0
    assert "nothing changed in feeders since record 3" in shown


def test_next_restores_from_the_state_that_was_compared(root: FilePath) -> None:
    put(MACHINE, "      gain: 4\n", "")
    assert "\nNext\n  jobcheck restore cameras.up --from good:3\n" in diff("--from", "good:3")[1]
    assert "Next" not in diff("--from", "good", "--to", ".")[1]


def test_a_camera_that_is_gone_shows_its_controls_and_counts_the_rest(root: FilePath) -> None:
    text = FilePath(MACHINE).read_text()
    start, end = text.index("\n  # Everything in parts.yaml"), text.index("\n# Both hang")
    FilePath(MACHINE).write_text(text[:start] + text[end:])
    shown = diff()[1]
    assert "all of camera up, which is gone" in shown
    assert "gain                        4            missing  lost" in shown
    assert "usb_id" not in shown
    assert "  and 70 more\n" in shown


def test_a_row_that_went_endangers_no_other(root: FilePath) -> None:
    put(LIST, "C3,cap-100n-0603,22.00,17.90,90,top\n", "")
    put(LIST, "C5,", "C55,")
    shown = diff()[1]
    assert "placements.C3" in shown
    assert "is now jobs.soil-logger.placements.C55" in shown
    assert "84 placements" not in shown
    assert "83 placements" not in shown


def test_a_changed_control_names_what_was_tuned_under_it(root: FilePath) -> None:
    put(MACHINE, "      gain: 4\n", "      gain: 5\n")
    assert "Tuned under it: 7 recognitions: can, chip, diode" in diff()[1]


def test_each_title_counts_the_values_that_it_shows(root: FilePath) -> None:
    """The notes have two new events: blocks of three values each."""
    shown = diff("--from", "good:1")[1]
    titles = re.findall(r"^(?:Changes|Counts changed|Notes changed): (\d+)", shown, re.MULTILINE)
    assert len(titles) == 3
    assert sum(map(int, titles)) == int(re.findall(r"(\d+) values changed since", shown)[0])
    assert "Notes changed: 70\n" in shown
    assert "  and 58 more\n" in shown
