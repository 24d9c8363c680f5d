"""Gathering, delivering and looking up, on the bridged example, through the command line."""

import fcntl
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main
from jobcheck.commands import deliver
from jobcheck.sources.bridge.holders import Holders

EXAMPLE = FilePath(__file__).resolve().parents[2] / "examples" / "bridged"
OPTICS, SHELF, AXES = "controller/optics.xml", "controller/shelf.json", "controller/axes.ini"
SHUTTER = '<shutter who="hand" slows="no" us="10000"/>'
DAY = ("--as-of", "2026-11-25")


class Shop:
    """A copy of the bridged example, and commands in it."""

    def __init__(self, root: FilePath) -> None:
        self.root = root
        self.said = ""

    def run(self, *words: str) -> int:
        out = io.StringIO()
        code = main([*DAY, "--shop", str(self.root), *words], out, out)
        self.said = out.getvalue()
        return code

    def data(self, *words: str) -> object:
        self.run("--format", "json", *words)
        return json.loads(self.said)

    def read(self, name: str) -> bytes:
        return (self.root / name).read_bytes()

    def edit(self, name: str, old: str, new: str) -> None:
        data = self.read(name)
        assert data.count(old.encode()) == 1, (name, old, data.count(old.encode()))
        (self.root / name).write_bytes(data.replace(old.encode(), new.encode()))

    def tree(self) -> dict[str, bytes]:
        files = (path for path in self.root.rglob("*") if path.is_file())
        return {path.relative_to(self.root).as_posix(): path.read_bytes() for path in files}


@pytest.fixture
def shop(tmp_path: FilePath) -> Shop:
    """The example, gathered."""
    shutil.copytree(EXAMPLE, tmp_path / "bridged")
    made = Shop(tmp_path / "bridged")
    assert made.run("gather", "--write") == 0, made.said
    return made


def test_the_camera_drill(shop: Shop) -> None:
    """The controller forgets its exposure: shown lost, put back on both sides, nothing else."""
    before = shop.tree()
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no"/>')

    assert shop.run("gather", "--check") == 1
    assert shop.run("gather", "--write") == 0
    assert "cameras.up.controls.exposure_time_absolute was 100" in shop.said
    assert b"exposure_time_absolute: 100 " not in shop.read("placer.yaml")

    assert shop.run("diff") == 1
    assert "Camera settings lost: 2, all of camera up" in shop.said
    assert "80 of 84 placements" in shop.said
    assert shop.run("lint") == 1
    assert "[camera-settings-lost]" in shop.said

    lost = shop.tree()
    assert shop.run("restore", "cameras.up", "--deliver") == 0
    assert "hand" in shop.said
    assert 'us="10000"' in shop.said
    assert shop.tree() == lost

    assert shop.run("restore", "cameras.up", "--deliver", "--write") == 0
    assert "Stop the job and close the controller first." in shop.said
    for name in ("placer.yaml", OPTICS, SHELF, AXES):
        assert shop.read(name) == before[name], name

    assert shop.run("lint") == 0
    assert "No findings." in shop.said
    assert shop.run("gather", "--check") == 0
    assert shop.run("diff") == 0


def test_nothing_is_written_without_write(shop: Shop) -> None:
    shop.edit(OPTICS, "<amplify>4<", "<amplify>9<")
    before = shop.tree()
    for words in (["gather"], ["gather", "--check"], ["find", str(shop.root / OPTICS), "9"]):
        shop.run(*words)
    assert shop.tree() == before
    shop.run("gather", "--write")
    shop.edit("placer.yaml", "gain: 9", "gain: 5")
    before = shop.tree()
    assert shop.run("deliver", "cameras.up") == 0
    assert "9  becomes  5" in shop.said
    assert shop.tree() == before


def test_a_fresh_example_agrees_with_its_controller(shop: Shop) -> None:
    assert shop.run("gather", "--check") == 0
    assert shop.run("deliver", "cameras", "feeders", "travel", "motion") == 0
    assert "the controller's files agree with the" in shop.said
    data = shop.data("gather")
    assert isinstance(data, dict)
    assert (data["differing"], data["idle"], data["lines"]) == ([], [], [])


def test_gathering_changes_one_value_and_no_other_byte(shop: Shop) -> None:
    before = shop.read("feeders.yaml")
    shop.edit(SHELF, "52.99", "53.01")
    assert shop.run("gather", "--write") == 0
    assert shop.read("feeders.yaml") == before.replace(b"x: 52.99", b"x: 53.01")


def test_an_entry_that_is_gone_loses_what_the_map_filled(shop: Shop) -> None:
    """What the controller does not know of it, the reel and its lot, stays in the description."""
    data = json.loads(shop.read(SHELF))
    data["lanes"] = [lane for lane in data["lanes"] if lane["tag"] != "lane f09"]
    (shop.root / SHELF).write_text(json.dumps(data))
    assert shop.run("gather", "--write") == 0
    assert "feeders.f09.pick.x was 149.01" in shop.said
    assert b"lot: L26-0412" in shop.read("feeders.yaml")
    assert shop.run("lint") == 2
    assert "feeders.f09.pick" in shop.said


def test_a_new_entry_is_added(shop: Shop) -> None:
    data = json.loads(shop.read(SHELF))
    lane = {"tag": "lane f90", "on": True, "takes": "res-10k-0603", "left": 5}
    lane["grab"] = {"at": [1, 2.5], "depth": 18, "turn": 0}
    data["lanes"].append(lane)
    (shop.root / SHELF).write_text(json.dumps(data))
    assert shop.run("gather", "--write") == 0
    added = shop.read("feeders.yaml").decode().split("f90:")[1]
    assert "x: 1, y: 2.5, z: -18, rotation: 0" in added


def test_counts_and_unnamed_measurements_are_never_delivered(shop: Shop) -> None:
    shop.edit("feeders.yaml", "x: 52.99", "x: 53.01")
    shop.edit("feeders.yaml", "remaining: 3140", "remaining: 3000")
    before = shop.read(SHELF)
    assert shop.run("deliver", "feeders", "--write") == 0
    assert shop.read(SHELF) == before
    assert "feeders.f03.pick.x, feeders.f03.remaining" in shop.said
    assert shop.run("deliver", "feeders.f03.remaining", "--write") == 0
    assert shop.read(SHELF) == before
    assert shop.run("deliver", "feeders.f03.pick", "--write") == 0
    assert shop.read(SHELF) == before.replace(b"52.99", b"53.01")


def test_values_in_other_units_and_words_are_delivered_exactly(shop: Shop) -> None:
    edits = {
        "xy_mm_s: 250": "xy_mm_s: 225",
        "xy_mm_s2: 2000": "xy_mm_s2: 1750",
        "traverse_z: -2 ": "traverse_z: -2.5 ",
        "reversal: {x: 0.04": "reversal: {x: 0.045",
        "home_mark: {x: 14.2": "home_mark: {x: 14.25",
    }
    for old, new in edits.items():
        shop.edit("placer.yaml", old, new)
    before = shop.read(AXES)
    words = ("motion", "traverse_z", "reversal", "home_mark")
    assert shop.run("deliver", *words, "--write") == 0, shop.said
    expected = before
    for was, becomes in {
        b"plane_mm_min=15000": b"plane_mm_min=13500",
        b"plane_m_s2=2.0": b"plane_m_s2=1.75",
        b"cruise: 2": b"cruise: 2.5",
        b"lost_motion_um = 40": b"lost_motion_um = 45",
        b'mark = "14.2; ': b'mark = "14.25; ',
    }.items():
        assert expected.count(was) == 1, was
        expected = expected.replace(was, becomes)
    assert shop.read(AXES) == expected


def test_automatics_go_before_what_they_override(shop: Shop) -> None:
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no" us="15700"/>')
    shop.edit(OPTICS, '<tint self="no" kelvin="4600" />', '<tint self="yes" kelvin="5000" />')
    shop.run("gather", "--write")
    shop.run("restore", "cameras.up", "--write")
    values = shop.data("deliver", "cameras.up")
    assert isinstance(values, dict)
    names = [value["path"].rpartition(".")[2] for value in values["values"]]
    assert set(names[:2]) == {"auto_exposure", "white_balance_automatic"}
    assert set(names[2:]) == {"exposure_time_absolute", "white_balance_temperature"}


def test_a_value_that_cannot_act_says_so(shop: Shop) -> None:
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no" us="15700"/>')
    shop.run("gather", "--write")
    shop.run("restore", "cameras.up", "--write")
    shop.run("deliver", "cameras.up.controls.exposure_time_absolute")
    assert "auto_exposure is on in the controller's file" in " ".join(shop.said.split())


# what deliver refuses


def test_another_change_in_the_file_does_not_matter(shop: Shop) -> None:
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    shop.edit(OPTICS, 'full-at="907"', 'full-at="908"')
    before = shop.read(OPTICS)
    assert shop.run("deliver", "cameras.up", "--write") == 0
    assert shop.read(OPTICS) == before.replace(b"<amplify>4<", b"<amplify>5<")


def test_refuses_a_value_that_is_newer_in_the_controller(shop: Shop) -> None:
    """Both changed it: the two commands that are named lead to agreement, each in its way."""
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    shop.edit(OPTICS, "<amplify>4<", "<amplify>9<")
    before = shop.tree()
    assert shop.run("deliver", "cameras.up", "--write") == 1
    assert shop.tree() == before
    says = " ".join(shop.said.split())
    assert "1 selected value changed in the controller since the gathering on 2026-11-25" in says
    assert "gain 4 9 5" in says
    for words, gain in (
        (["gather", "cameras.up.controls.gain"], b"<amplify>9<"),
        (["deliver", "cameras.up", "--overwrite"], b"<amplify>5<"),
    ):
        assert " ".join(words) in says
        copy = Shop(shop.root.parent / f"copy-{words[0]}")
        shutil.copytree(shop.root, copy.root)
        assert copy.run(*words, "--write") == 0, copy.said
        assert copy.run("gather", "--check") == 0
        assert gain in copy.read(OPTICS)


def test_the_recorded_value_is_always_delivered(shop: Shop) -> None:
    shop.edit(OPTICS, "<amplify>4<", "<amplify>9<")
    assert shop.run("deliver", "cameras.up", "--write") == 0
    assert b"<amplify>4<" in shop.read(OPTICS)


def test_a_fresh_clone_delivers_over_recorded_values(tmp_path: FilePath) -> None:
    """A machine that has gathered nothing: the record says what the controller had."""
    shutil.copytree(EXAMPLE, tmp_path / "fresh")
    fresh = Shop(tmp_path / "fresh")
    fresh.edit("placer.yaml", "gain: 4", "gain: 5")
    assert fresh.run("deliver", "cameras.up", "--write") == 0
    assert b"<amplify>5<" in fresh.read(OPTICS)
    shutil.rmtree(fresh.root / "controller-copies")
    fresh.edit("placer.yaml", "gain: 5", "gain: 6")
    assert fresh.run("deliver", "cameras.up", "--write") == 1
    assert "not gathered" in fresh.said


def test_a_plain_restore_names_the_other_side(shop: Shop) -> None:
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no"/>')
    assert shop.run("gather", "--write") == 0
    for words in (["restore", "cameras.up"], ["restore", "cameras.up", "--write"]):
        assert shop.run(*words) == 0
        assert "The controller's files still differ in 2 values." in " ".join(shop.said.split())
        assert "jobcheck restore cameras.up --deliver --shop" in shop.said
    assert shop.run("restore", "cameras.up", "--deliver", "--write") == 0
    assert shop.run("gather", "--check") == 0
    assert shop.run("restore", "cameras.up", "--deliver") == 0
    assert "both sides agree with record 1" in shop.said


def test_a_record_has_the_controller_s_files_whole(shop: Shop) -> None:
    """They are restorable with cp; a changed copy damages the record."""
    record = shop.root / "known-good" / "1-bridged"
    for name in (OPTICS, SHELF, AXES):
        assert (record / name).read_bytes() == shop.read(name)
    assert shop.run("history") == 0
    (record / AXES).write_bytes(b"[axis x]\n")
    assert shop.run("history") == 1
    assert "controller/axes.ini was changed after it was recorded" in " ".join(shop.said.split())


def test_a_change_outside_the_map_is_a_note(shop: Shop) -> None:
    shop.edit(OPTICS, 'full-at="907"', 'full-at="908"')
    shop.edit(OPTICS, '<wire vid="fff0" pid="0009"/>', '<wire vid="fff0" pid="0008"/>')
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no"/>')
    shop.edit(SHELF, '"left": 3140', '"left": 3139')
    shop.edit(AXES, 'mark = "14.2; 46.1"', 'mark = "14.3; 46.1"')
    shop.edit(AXES, "level=info", "level=debug")
    assert shop.run("diff") == 0
    assert "Note: controller/axes.ini: 1 change outside the map, line 35." in shop.said
    assert "Note: controller/optics.xml: 2 changes outside the map, lines 6, 44." in shop.said
    assert SHELF not in shop.said
    assert shop.run("lint", "--only", "camera-settings-lost") == 0


def test_gather_warns_before_it_overwrites_what_was_put_back(shop: Shop) -> None:
    shop.edit(OPTICS, SHUTTER, '<shutter who="device" slows="no"/>')
    assert shop.run("gather", "--write") == 0
    assert shop.run("restore", "cameras.up", "--write") == 0
    assert shop.run("gather") == 0
    says = " ".join(shop.said.split())
    assert "Warning: this overwrites 2 values that were put back as recorded" in says
    assert "restore cameras.up.controls --deliver" in says


def test_there_is_no_option_to_force(shop: Shop) -> None:
    assert shop.run("deliver", "cameras.up", "--force") == 2
    assert "No such option" in shop.said


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells who")
def test_refuses_a_file_that_another_process_holds_open(shop: Shop) -> None:
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    program = "import sys; f = open(sys.argv[1]); print('open', flush=True); sys.stdin.read()"
    holder = subprocess.Popen(
        [sys.executable, "-c", program, str(shop.root / OPTICS)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert holder.stdout is not None
    assert holder.stdin is not None
    holder.stdout.readline()
    before = shop.tree()
    try:
        assert shop.run("deliver", "cameras.up", "--write") == 2
        assert "is open by" in " ".join(shop.said.split())
        assert str(holder.pid) in shop.said
        assert shop.tree() == before
    finally:
        holder.stdin.close()
        holder.wait()
        holder.stdout.close()
    assert shop.run("deliver", "cameras.up", "--write") == 0


@pytest.mark.skipif(os.name == "nt", reason="there are no such locks")
def test_refuses_a_file_that_is_locked(shop: Shop) -> None:
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    with (shop.root / OPTICS).open("rb") as stream:
        fcntl.flock(stream, fcntl.LOCK_SH)
        assert shop.run("deliver", "cameras.up", "--write") == 2
    assert "is open" in " ".join(shop.said.split())


def test_keeps_a_copy_that_git_does_not_see(shop: Shop) -> None:
    before = shop.read(OPTICS)
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    shop.run("deliver", "cameras.up", "--write")
    copies = sorted((shop.root / "controller-copies").glob("optics-*.xml"))
    assert [copy.read_bytes() for copy in copies] == [before]
    assert (shop.root / "controller-copies" / ".gitignore").read_text() == "*\n"
    shop.edit("placer.yaml", "gain: 5", "gain: 6")
    assert shop.run("deliver", "cameras.up", "--write") == 0
    assert len(list((shop.root / "controller-copies").glob("optics-*.xml"))) == 2


def test_a_missing_element_comes_back_where_a_sibling_has_it(shop: Shop) -> None:
    """The controller lost the whole element: both sides return, byte for byte."""
    before = {name: shop.read(name) for name in (OPTICS, "placer.yaml")}
    for row in ("    <amplify>4</amplify>\n", "    <amplify>8</amplify>\n"):
        shop.edit(OPTICS, row, "")
        assert shop.run("gather", "--write") == 0
        assert shop.run("restore", "cameras", "--deliver", "--write") == 0, shop.said
        assert {name: shop.read(name) for name in before} == before
        assert shop.run("gather", "--check") == 0


def test_a_missing_member_comes_back(shop: Shop) -> None:
    before = json.loads(shop.read(SHELF))
    lane = '"tag": "lane f03",\n\t\t\t"on": true,\n'
    shop.edit(SHELF, lane + '\t\t\t"takes": "res-4k7-0603",\n', lane)
    assert shop.run("restore", "feeders.f03.part", "--deliver", "--write") == 0, shop.said
    assert json.loads(shop.read(SHELF)) == before
    assert shop.run("gather", "--check") == 0


def test_a_value_without_a_place_is_refused(shop: Shop) -> None:
    shop.edit(OPTICS, '    <lamp ring="ring-up" level="550"/>\n', "")
    shop.run("gather", "--write")
    shop.run("restore", "cameras.up", "--write")
    before = shop.read(OPTICS)
    assert shop.run("deliver", "cameras.up", "--write") == 2
    assert "has no place in controller/optics.xml" in " ".join(shop.said.split())
    assert shop.read(OPTICS) == before


def test_restore_with_delivery_refuses_before_it_writes_anything(shop: Shop) -> None:
    shop.edit(OPTICS, '    <lamp ring="ring-up" level="550"/>\n', "")
    shop.run("gather", "--write")
    before = shop.tree()
    assert shop.run("restore", "cameras.up", "--deliver", "--write") == 2
    assert shop.tree() == before


def test_a_file_elsewhere_is_named_on_the_command_line(shop: Shop, tmp_path: FilePath) -> None:
    away = tmp_path / "away"
    away.mkdir()
    shutil.move(shop.root / "controller", away / "controller")
    assert shop.run("gather") == 2
    assert "--controller" in shop.said
    elsewhere = ("--controller", str(away))
    assert shop.run("gather", "--write", *elsewhere) == 0
    shop.edit("placer.yaml", "gain: 4", "gain: 5")
    assert shop.run("deliver", "cameras.up", "--write", *elsewhere) == 0
    assert b"<amplify>5<" in (away / OPTICS).read_bytes()


# lint


def test_lint_names_the_side_that_differs_from_the_record(shop: Shop) -> None:
    shop.edit(OPTICS, "<amplify>4<", "<amplify>6<")
    assert shop.run("lint") == 1
    assert "Error: controller/optics.xml differs from the record" in shop.said
    assert "controller/optics.xml:37:14" in shop.said
    shop.edit(OPTICS, "<amplify>6<", "<amplify>4<")
    shop.edit("placer.yaml", "gain: 4", "gain: 6")
    assert shop.run("lint", "--only", "controller-differs") == 1
    assert "Error: The description differs from the record" in shop.said
    assert "jobcheck deliver" in " ".join(shop.said.split())


def test_lint_compares_only_where_the_shop_asks_for_it(shop: Shop) -> None:
    shop.edit(OPTICS, "<amplify>4<", "<amplify>6<")
    text = shop.read("shop.yaml").decode()
    (shop.root / "shop.yaml").write_text(
        text.replace("limits:", "disabled: {controller-differs: the bench is away}\nlimits:")
    )
    assert shop.run("lint") == 0


def test_findings_show_places_in_the_controller_s_file_too(shop: Shop) -> None:
    shop.edit(OPTICS, 'us="10000"', 'us="3000000"')
    shop.run("gather", "--write")
    shop.run("lint", "--only", "camera-control-impossible", "--format", "json")
    (found,) = json.loads(shop.said)["shops"][0]["findings"]
    assert {place["file"] for place in found["related"]} == {"placer.yaml", OPTICS}


def git(folder: FilePath, *words: str) -> None:
    subprocess.run(["git", *words], cwd=folder, check=True, capture_output=True)


def test_at_a_commit_both_sides_are_read_from_the_index(shop: Shop) -> None:
    git(shop.root, "init", "-q")
    git(shop.root, "add", ".")
    assert shop.run("lint", "--staged") == 0
    shop.edit(OPTICS, "<amplify>4<", "<amplify>6<")
    assert shop.run("lint", "--staged") == 0, "what is not staged does not matter"
    git(shop.root, "add", ".")
    assert shop.run("lint", "--staged") == 1
    assert "[controller-differs]" in shop.said
    git(shop.root, "rm", "-q", "--cached", OPTICS)
    assert shop.run("lint", "--staged") == 0
    assert "No findings." in shop.said
    shop.run("lint", "--staged", "--format", "json")
    (linted,) = json.loads(shop.said)["shops"]
    causes = [one["cause"] for one in linted["not_checked"] if one["rule"] == "controller-differs"]
    assert causes == [f"{OPTICS} not in the index; --controller FOLDER names the folder"]


def test_a_part_that_was_placed_is_a_note(shop: Shop) -> None:
    """A count that differs changes no exit code of lint, diff or gather --check."""
    shop.edit(SHELF, '"left": 3140', '"left": 3139')
    assert shop.run("lint", "--strict") == 0
    assert "Note: 1 count in the controller's files differs" in shop.said
    assert shop.run("gather", "--check") == 0
    assert "feeders.f03.remaining" in shop.said
    assert shop.run("gather", "feeders.f03.remaining", "--write") == 0
    assert b"remaining: 3139" in shop.read("feeders.yaml")
    assert shop.run("diff") == 0


def test_a_controller_that_opens_its_file_meanwhile_is_noticed_before_it_is_replaced(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.edit("placer.yaml", "      gain: 4\n", "      gain: 5\n")
    answers = iter([Holders(), Holders(("bench (process 7)",))])
    monkeypatch.setattr(deliver, "holders_of", lambda file: next(answers))
    before = shop.read(OPTICS)
    assert shop.run("deliver", "cameras.up.controls.gain", "--overwrite", "--write") == 2
    assert "it is open by bench (process 7) now" in " ".join(shop.said.split())
    assert shop.read(OPTICS) == before


def test_lint_compares_a_controller_elsewhere(
    shop: Shop, tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch
) -> None:
    away = tmp_path / "away"
    away.mkdir()
    shutil.move(shop.root / "controller", away / "controller")
    assert shop.run("lint", "--strict") == 0
    assert "not on this machine" in " ".join(shop.said.split())
    assert shop.run() == 0
    assert f"Controller   {OPTICS}" in shop.said
    assert "up described as recorded" in " ".join(shop.said.split())
    optics = (away / OPTICS).read_text().replace("<amplify>4<", "<amplify>6<")
    (away / OPTICS).write_text(optics)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert shop.run("lint", "--controller", "~/away") == 1
    assert "[controller-differs]" in shop.said
    assert "--deliver --shop" in shop.said
    assert f"{away.name}/{OPTICS}:37:14" in shop.said
    assert shop.run("lint", "--controller", "~/nowhere") == 2
    assert "~/nowhere is not a folder" in " ".join(shop.said.split())


def test_the_former_key_is_answered_with_what_to_write(shop: Shop) -> None:
    shop.edit("shop.yaml", "limits:", "check_bridge: true\nlimits:")
    assert shop.run("lint") == 2
    assert "disabled: {controller-differs: REASON}" in " ".join(shop.said.split())


# looking up, starting a map


@pytest.mark.parametrize(
    ("file", "value", "line"),
    [
        (OPTICS, "10000.0", "/bench-optics/eye[@tag='lower']/shutter/@us"),
        (OPTICS, "hand", "/bench-optics/eye[@tag='upper']/shutter/@who"),
        (OPTICS, "30200", 'split: {by: " ", take: 2}'),
        (SHELF, "117.2", "$.lanes[?@.tag == 'lane f07'].grab.at[0]"),
        (SHELF, "res-1k-0603", "$.lanes[?@.tag == 'lane f02'].takes"),
    ],
)
def test_find_says_where_a_value_stands(shop: Shop, file: str, value: str, line: str) -> None:
    assert shop.run("find", str(shop.root / file), value) == 0
    assert line in shop.said


def test_find_is_told_the_encoding(shop: Shop) -> None:
    assert shop.run("find", str(shop.root / AXES), "80") == 2
    assert "encoding" in shop.said
    assert shop.run("find", str(shop.root / AXES), "80", "--encoding", "windows-1252") == 0
    assert shop.said.count("steps_per_mm") == 2
    assert shop.run("find", str(shop.root / AXES), "81", "--encoding", "windows-1252") == 1


def test_new_starts_a_map(shop: Shop) -> None:
    assert shop.run("new", "--bridge", str(shop.root / OPTICS)) == 2
    assert "already" in shop.said
    (shop.root / "bridge.yaml").unlink()
    before = shop.tree()
    assert shop.run("new", "--bridge", str(shop.root / OPTICS)) == 0
    assert shop.tree().keys() - before.keys() == {"bridge.yaml"}
    assert shop.run("gather") == 0
    text = shop.read("bridge.yaml").decode()
    assert "#   cameras.up.controls.gamma: \"/bench-optics/eye[@tag='lower']/tone/@gamma\"" in text
