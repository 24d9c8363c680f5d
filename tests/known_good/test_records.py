"""Records: kept whole, listed by name, checked by their sums, never changed or deleted."""

import hashlib
import os
import random
import shutil
import subprocess
from datetime import date

import pytest

from jobcheck.commands.lint import lint_state
from jobcheck.known_good.keeping import Keeping, keep_record, withdraw
from jobcheck.known_good.record import slug_of, sum_of
from jobcheck.known_good.store import RecordRefused, Records, records_of
from jobcheck.rules.shop.record import camera_settings_lost
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.git import staged_state
from jobcheck.sources.state.state import FolderFiles, HeldFiles, State, folder_state, shop_above
from jobcheck.sources.state.writing import UNFINISHED, WriteRefused
from tests.support.edited import STARTER

DAY = date(2026, 10, 2)


@pytest.fixture
def root(tmp_path):
    shutil.copytree(STARTER, tmp_path / "shop")
    return tmp_path / "shop"


def keep(root, label="first", **said):
    return keep_record(root, read_shop(folder_state(root)), Keeping(label, DAY, **said))


def records(root):
    return Records(folder_state(root))


def change(root, name="placer.yaml"):
    file = root / name
    file.write_bytes(file.read_bytes() + b"# changed\n")


def plain(state):
    shop = read_shop(state).shop
    assert shop is not None
    return shop.plain


def last_good(found):
    last = found.last_good()
    assert last is not None
    return last


def bytes_below(folder):
    return {name: FolderFiles(folder)[name] for name in FolderFiles(folder)}


def test_a_record_holds_the_files_as_they_are_and_what_was_said(root):
    before = bytes_below(root)
    keep(root, "After lens swap", note="two trials: ok", on_purpose=("cameras.up",))
    folder = root / "known-good" / "1-after-lens-swap"
    copies = bytes_below(folder)
    about = copies.pop("record.yaml").decode()
    assert copies == before
    sums = [f"  {name}: {hashlib.sha256(data).hexdigest()}" for name, data in before.items()]
    assert set(sums) <= {line.replace('"', "") for line in about.splitlines()}
    assert "label: After lens swap\n" in about
    assert 'note: "two trials: ok"\n' in about
    assert "on_purpose: [cameras.up]\n" in about
    assert "date: 2026-10-02\n" in about


def test_a_record_reads_as_it_was_kept(root):
    kept = keep(root, "first: 10", note="2026", evidence=("t1",), on_purpose=("cameras.up",))
    assert records(root).read(kept.entry) == kept


def test_a_record_is_a_state_of_its_own(root):
    before = plain(folder_state(root))
    kept = keep(root)
    change(root)
    (root / "parts.yaml").unlink()
    state = records(root).open(kept)
    reading = read_shop(state)
    assert (state.label, reading.faults) == ("good:1", ())
    assert plain(state) == before
    assert state.files.names("*.yaml") == ["feeders.yaml", "parts.yaml", "placer.yaml", "shop.yaml"]


def test_a_record_is_never_taken_for_a_shop_of_its_own(root):
    kept = keep(root)
    assert shop_above(root / kept.entry.folder) == root


def test_numbers_increase_over_withdrawn_and_broken_records(root):
    for label in ("first", "second"):
        keep(root, label)
    (root / "known-good" / "7-what-is-this").mkdir()
    withdraw(root, records(root).find("second"), "the lens was loose", DAY)
    assert keep(root, "third").entry.folder == "known-good/8-third"
    assert [entry.title for entry in records(root).entries] == [
        "record 1, first",
        "record 2, second",
        "record 7, what-is-this",
        "record 8, third",
    ]


def test_records_are_in_the_order_of_their_numbers_not_of_their_names(root):
    for number in range(11):
        keep(root, f"try {number}")
    assert [entry.number for entry in records(root).entries] == list(range(1, 12))


def test_whether_the_present_is_as_recorded_is_told_by_the_sums_alone(root, monkeypatch):
    keep(root)
    asked = []
    real = FolderFiles.__getitem__

    def noted(self, name):
        asked.append(name)
        return real(self, name)

    monkeypatch.setattr(FolderFiles, "__getitem__", noted)
    newest = records(root).newest()
    assert newest.is_as(read_shop(folder_state(root)))
    assert [name for name in asked if name.startswith("known-good/")] == [
        "known-good/1-first/record.yaml"
    ]
    change(root)
    assert not newest.is_as(read_shop(folder_state(root)))


def test_a_file_more_or_less_is_not_as_recorded(root):
    newest = keep(root)
    text = (root / "shop.yaml").read_text()
    (root / "more.yaml").write_text("describes: parts\nedition: 1\n")
    (root / "shop.yaml").write_text(text.replace("[parts.yaml]", "[parts.yaml, more.yaml]"))
    assert not newest.is_as(read_shop(folder_state(root)))


def test_without_records_nothing_is_good(root):
    assert records(root).newest() is None
    assert records(root).last_good() is None


def test_the_last_good_one_is_not_withdrawn(root):
    keep(root, "first")
    second = keep(root, "second")
    assert last_good(records(root)).record.entry.number == 2
    before = bytes_below(root / second.entry.folder)
    withdraw(root, second.entry, "the lens was loose", DAY)
    last = last_good(records(root))
    assert (last.record.entry.number, last.reading.state.label, last.refused) == (1, "good:1", ())
    assert records(root).newest().entry.number == 1
    after = bytes_below(root / second.entry.folder)
    assert b"because: the lens was loose" in after.pop("withdrawn.yaml")
    assert after == before


def test_a_withdrawn_record_says_why_and_is_withdrawn_once(root):
    keep(root)
    withdraw(root, records(root).find("first"), "the lens was loose", DAY)
    entry = records(root).find("first")
    assert records(root).read(entry).withdrawal.because == "the lens was loose"
    with pytest.raises(
        RecordRefused, match="Record 1, first, cannot be used: it is withdrawn already"
    ):
        withdraw(root, entry, "again", DAY)


def _edit(folder, old, new):
    file = folder / "record.yaml"
    assert old in file.read_bytes()
    file.write_bytes(file.read_bytes().replace(old, new))


def _without_sums(folder):
    text = (folder / "record.yaml").read_text()
    (folder / "record.yaml").write_text(text[: text.index("sums:")] + "sums: {}\n")


def _with_other_line_ends(folder):
    file = folder / "parts.yaml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))


def _with_faults(folder):
    """A record of a state that was not understood, with sums that fit."""
    before = (folder / "parts.yaml").read_bytes()
    (folder / "parts.yaml").write_bytes(before + b"unknown: 1\n")
    _edit(folder, sum_of(before).encode(), sum_of(before + b"unknown: 1\n").encode())


@pytest.mark.parametrize(
    ("damage", "why"),
    [
        (lambda folder: change(folder), "its copy of placer.yaml was changed"),
        (lambda folder: (folder / "parts.yaml").unlink(), "its copy of parts.yaml is missing"),
        (lambda folder: change(folder, "jobs/first-board/bill.csv"), "first-board/bill.csv"),
        (lambda folder: (folder / "record.yaml").write_text("a: ["), "record.yaml:1:5: The YAML"),
        (lambda folder: (folder / "record.yaml").write_text("a: 1"), "record.yaml: number"),
        (lambda folder: _edit(folder, b"sums:", b"sums: {}\nolder:"), "record.yaml: older"),
        (_without_sums, "record.yaml does not list shop.yaml"),
        (lambda folder: (folder / "record.yaml").unlink(), "record.yaml is missing"),
        (lambda folder: _edit(folder, b"label: second", b"label: other"), "renamed or copied"),
        (lambda folder: (folder / "withdrawn.yaml").write_text("because: ["), "withdrawn.yaml"),
        (_with_other_line_ends, "its copy of parts.yaml has other line ends"),
        (_with_faults, "its copies are not understood: parts.yaml"),
        (lambda folder: (folder / "record.yaml").write_bytes(b"\xff\xfe"), "UTF-16"),
    ],
)
def test_a_record_that_does_not_fit_is_refused_by_name_and_the_one_before_stands(root, damage, why):
    keep(root, "first")
    damaged = keep(root, "second")
    damage(root / damaged.entry.folder)
    last = last_good(records(root))
    assert last.record.entry.number == 1
    (refused,) = last.refused
    assert str(refused).startswith("Record 2, second, cannot be used: ")
    assert why in str(refused)
    assert str(refused).endswith("The record before it is record 1, first: good:1.")


def test_where_no_record_fits_the_last_one_is_named(root):
    keep(root, "first")
    keep(root, "second")
    for folder in (root / "known-good").glob("*-*"):
        change(folder)
    with pytest.raises(RecordRefused, match="Record 2, second, cannot be used"):
        records(root).last_good()


def test_a_copy_that_leads_out_of_the_shop_is_refused(root, tmp_path):
    kept = keep(root)
    copy = root / kept.entry.folder / "parts.yaml"
    copy.rename(tmp_path / "parts.yaml")
    copy.symlink_to(tmp_path / "parts.yaml")
    with pytest.raises(RecordRefused, match=r"its copy of parts.yaml is outside"):
        records(root).open(kept)


@pytest.mark.parametrize("text", ["good:1", "1", "after-lens-swap", "After lens swap"])
def test_a_record_is_found_by_number_or_label(root, text):
    keep(root, "after lens swap")
    keep(root, "another")
    assert records(root).find(text).number == 1


def test_of_two_records_of_one_label_the_last_is_meant(root):
    keep(root)
    keep(root)
    assert records(root).find("first").number == 2


def test_near_labels_are_named(root):
    with pytest.raises(LookupError, match="nothing was recorded yet"):
        records(root).find("x")
    keep(root, "after lens swap")
    with pytest.raises(
        LookupError, match=r"Record after-lense-swap does not exist. Near: after-lens-swap."
    ):
        records(root).find("after-lense-swap")
    with pytest.raises(LookupError, match=r"Record qqq does not exist. Records: after-lens-swap."):
        records(root).find("qqq")


@pytest.mark.parametrize(
    ("label", "slug"),
    [
        ("after lens swap", "after-lens-swap"),
        ("  Größe: 0603/0805! ", "groe-0603-0805"),
        ("../../etc", "etc"),
        ("x" * 100, "x" * 60),
        ("a\nb", "a-b"),
    ],
)
def test_a_label_becomes_the_name_of_a_folder(label, slug):
    assert slug_of(label) == slug


@pytest.mark.parametrize("label", ["", "  ", "3", "..", "日本"])
def test_a_label_without_a_letter_is_refused(root, label):
    with pytest.raises(ValueError, match="is not a label: it needs a letter"):
        keep(root, label)
    assert not (root / "known-good").exists()


def test_a_file_that_is_called_as_a_records_own_is_refused(root):
    (root / "placer.yaml").rename(root / "record.yaml")
    text = (root / "shop.yaml").read_text()
    (root / "shop.yaml").write_text(text.replace("placer.yaml", "record.yaml"))
    with pytest.raises(ValueError, match=r"cannot be called record.yaml"):
        keep(root)


@pytest.mark.parametrize("failing", ["mkdir", "open", "write", "fsync", "rename"])
def test_what_the_system_refuses_leaves_no_record(root, monkeypatch, failing):
    keep(root, "first")
    before = bytes_below(root)
    real = getattr(os, failing)

    def fail(*given, **named):
        if failing == "open" and not given[1] & os.O_CREAT:
            return real(*given, **named)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, failing, fail)
    with pytest.raises(WriteRefused, match=r"known-good/second was not written: the disk is full."):
        keep(root, "second")
    monkeypatch.undo()
    assert bytes_below(root) == before


def test_what_a_killed_run_left_is_no_record_and_goes_with_the_next(root):
    left = root / "known-good" / f"{UNFINISHED}1"
    left.mkdir(parents=True)
    (left / "record.yaml").write_text("half")
    assert records(root).entries == ()
    keep(root)
    assert not left.exists()


def git(root, *arguments):
    config = ("-c", "user.name=a", "-c", "user.email=a@b.c")
    subprocess.run(["git", *config, *arguments], cwd=root, check=True, capture_output=True)


def test_known_good_of_the_index_comes_from_the_index(root):
    git(root, "init", "-q")
    keep(root, "staged")
    git(root, "add", ".")
    keep(root, "not staged")
    staged = staged_state(root, "")
    assert last_good(records_of(staged, root)).record.entry.slug == "staged"
    assert last_good(records_of(folder_state(root), root)).record.entry.slug == "not-staged"


def test_git_does_not_change_the_line_ends_of_a_record(root):
    git(root, "init", "-q")
    (root / ".gitattributes").write_text("* text=auto eol=lf\n")
    placer = root / "placer.yaml"
    placer.write_bytes(placer.read_bytes().replace(b"\n", b"\r\n"))
    keep(root)
    git(root, "add", ".")
    assert last_good(records_of(staged_state(root, ""), root)).refused == ()


@pytest.mark.parametrize("name", ["2_second", "02-second", "2-second (copy)", "1234567890-second"])
def test_a_renamed_folder_is_damaged_and_never_absent(root, name):
    keep(root, "first")
    second = keep(root, "second")
    (root / second.entry.folder).rename(root / "known-good" / name)
    found = records(root)
    assert len(found.entries) == 2
    (refused,) = (one for one in found.verified() if isinstance(one, RecordRefused))
    assert "its folder is not named as a number and a label" in str(refused)
    assert refused.remedy == ("Rename the folder to known-good/2-second.",)
    assert last_good(found).record.entry.slug == "first"


def test_two_records_of_one_number_are_both_damaged(root):
    keep(root, "first")
    second = keep(root, "second")
    twin = root / "known-good" / "2-other"
    shutil.copytree(root / second.entry.folder, twin)
    _edit(twin, b"label: second", b"label: other")
    last = last_good(records(root))
    assert last.record.entry.slug == "first"
    assert [refused.why for refused in last.refused] == [
        "known-good/2-other has the same number",
        "known-good/2-second has the same number",
    ]
    withdraw(root, records(root).find("other"), "made on another branch", DAY)
    assert last_good(records(root)).record.entry.slug == "second"


@pytest.mark.parametrize("cases", [200, pytest.param(10_000, marks=pytest.mark.long)])
def test_damaged_folders_are_never_taken_for_absent_or_whole(root, cases):
    """Whatever is damaged, the record before it is used, the damage is named, a loss is found."""
    draw = random.Random(7)
    keep(root, "first")
    second = keep(root, "second")
    files = {name: FolderFiles(root)[name] for name in FolderFiles(root)}
    names = [name for name in files if name.startswith(second.entry.folder)]
    lost = files["placer.yaml"].replace(b"      gain: 4\n", b"")
    assert lost != files["placer.yaml"]
    for _ in range(cases):
        spoiled = files | {"placer.yaml": lost}
        for name in draw.sample(names, draw.randint(1, 3)):
            _spoil(draw, spoiled, name)
        state = State("staged", HeldFiles(spoiled), "shop")
        linted = lint_state(root, state, (camera_settings_lost,), DAY)
        found = [finding.rule for finding in linted.findings]
        assert "camera-settings-lost" in found
        if any(spoiled.get(name) != files[name] for name in names if "record.yaml" not in name):
            assert "record-damaged" in found
            assert linted.known_good.record.entry.number == 1


def _spoil(draw, files, name):
    data = files.pop(name, b"")
    way = draw.randrange(4)
    if way == 0:
        return
    if way == 1:
        files[name] = data[: draw.randrange(len(data) + 1)]
    elif way == 2:
        at = draw.randrange(len(data) + 1)
        files[name] = data[:at] + bytes([draw.randrange(256)]) + data[at + 1 :]
    else:
        folder = name.split("/")[1]
        for other in [found for found in files if f"/{folder}/" in found]:
            files[other.replace(folder, f"x{folder}")] = files.pop(other)
