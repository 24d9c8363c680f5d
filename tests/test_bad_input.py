"""Bad input gets one clear error with file and line; the other files are still linted."""

import io
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from tests.fuzz import bounded
from tests.support.edited import STARTER

DEEP = 1_000_000
BOMB = b"describes: parts\nedition: 1\na: &a [x,x,x,x,x,x,x,x,x,x]\n" + b"".join(
    b"%c: &%c [*%c,*%c,*%c,*%c,*%c,*%c,*%c,*%c,*%c]\n" % (c, c, *([c - 1] * 9))
    for c in range(ord("b"), ord("k"))
)

BAD: dict[str, tuple[bytes, str, str]] = {
    # name: (bytes of parts.yaml, place, words of the error)
    "empty": (b"", "parts.yaml:1:1", "is empty"),
    "only comments": (b"# nothing\n", "parts.yaml:1:1", "is empty"),
    "binary": (bytes(range(256)) * 20, "parts.yaml:1:1", "NUL byte"),
    "broken UTF-8": (b"describes: parts\nnote: \xff\n", "parts.yaml:2:7", "not UTF-8"),
    "UTF-16": ("describes: parts\n".encode("utf-16"), "parts.yaml:1:1", "UTF-16"),
    "tabs": (b"describes: parts\nparts:\n\ta: 1\n", "parts.yaml:3:1", "tab"),
    "flow nesting": (b"a: " + b"[" * DEEP, "parts.yaml:1:63", "nested more than"),
    "block nesting": (b"- " * DEEP, "parts.yaml:1:121", "nested more than"),
    "mapping nesting": (b"{a: " * DEEP, "parts.yaml:1:241", "nested more than"),
    "alias bomb": (BOMB, "parts.yaml:8:11", "repeat more than"),
    "alias in itself": (b"a: &x\n  b: *x\n", "parts.yaml:2:6", "inside the value that it repeats"),
    "duplicate key": (b"describes: parts\nedition: 1\nedition: 1\n", "parts.yaml:3:1", "twice"),
    "huge number": (b"describes: parts\nedition: 1e400\n", "parts.yaml:2:10", "too large"),
    "long number": (b"describes: parts\nedition: " + b"9" * 9999, "parts.yaml:2:10", "9999"),
    "not a number": (b"describes: parts\nedition: .nan\n", "parts.yaml:2:10", "not a number"),
    "newer edition": (b"describes: parts\nedition: 2\n", "parts.yaml:2:10", "edition 2; this"),
    "other kind": (b"describes: feeders\nedition: 1\n", "parts.yaml:1:12", "describes feeders"),
    "no kind": (b"edition: 1\n", "parts.yaml:1:1", "does not say what it describes"),
    "a list": (b"- a\n- b\n", "parts.yaml:1:1", "does not hold a mapping"),
    "text": (b"hello\n", "parts.yaml:1:1", "does not hold a mapping"),
    "two documents": (b"describes: parts\nedition: 1\n---\na: 1\n", "parts.yaml:3:1", "second"),
    "unclosed": (b'describes: parts\nnote: "x\n', "parts.yaml:3:1", "YAML is malformed here"),
    "unquoted colon": (b"describes: parts\na: {b: 1c:2d}\n", "parts.yaml:2:10", "colon"),
    "a tag": (b"describes: !!python/name:os.system parts\n", "parts.yaml:1:12", "tag"),
    "control character": (b"describes: parts\nnote: \x07\n", "parts.yaml:2:7", "U+0007"),
    "line separator": ("describes: parts\nnote: a\u2028b\n".encode(), "parts.yaml:2:8", "U+2028"),
    "empty value": (b"describes: parts\nedition: 1\nparts:\n", "parts.yaml:3:7", "is empty: a"),
    "unfinished merge": (
        b"describes: parts\nedition: 1\n<<<<<<< HEAD\nnote: a\n=======\nnote: b\n>>>>>>> other\n",
        "parts.yaml:3:1",
        "unfinished merge, lines 3 to 7: HEAD against other",
    ),
    "unknown key": (b"describes: parts\nedition: 1\npart: {}\n", "parts.yaml:3:1", "part is not"),
}


@pytest.fixture
def shop(tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch) -> FilePath:
    """A copy of the starter, with a fault in another file that must still be found."""
    folder = tmp_path / "shop"
    shutil.copytree(STARTER, folder)
    feeders = folder / "feeders.yaml"
    feeders.write_text(feeders.read_text().replace("slot: 2\n", "slot: 1\n"))
    monkeypatch.chdir(folder)
    return folder


def lint() -> tuple[int, list[str], str]:
    """Lint the shop here and return exit code, lines of findings, and complaints."""
    out, err = io.StringIO(), io.StringIO()
    code = main(["lint", "--format", "lines"], out, err)
    return code, out.getvalue().splitlines(), err.getvalue()


def errors_of(lines: list[str], file: str) -> list[str]:
    return [line for line in lines if line.startswith(file)]


@pytest.mark.parametrize("name", BAD)
def test_bad_file_is_one_error_and_the_others_are_linted(name: str, shop: FilePath) -> None:
    data, place, words = BAD[name]
    (shop / "parts.yaml").write_bytes(data)
    code, lines, complaints = lint()
    assert (code, complaints) == (2, "")
    (error,) = errors_of(lines, "parts.yaml")
    assert error.startswith(f"{place}: error: "), error
    assert words in error, error
    assert any("[feeder-slot-wrong]" in line for line in lines)


def _missing(path: FilePath) -> None:
    path.unlink()


def _folder(path: FilePath) -> None:
    path.unlink()
    path.mkdir()


def _pipe(path: FilePath) -> None:
    path.unlink()
    os.mkfifo(path)


def _link_outside(path: FilePath) -> None:
    path.unlink()
    path.symlink_to("/etc/hostname")


def _circle(path: FilePath) -> None:
    path.unlink()
    path.symlink_to(path)


@pytest.mark.parametrize(
    ("spoil", "place", "words"),
    [
        (_missing, "shop.yaml:5:9", "parts.yaml does not exist"),
        (_folder, "parts.yaml:1:1", "is a folder"),
        (_pipe, "parts.yaml:1:1", "not an ordinary file"),
        (_link_outside, "parts.yaml:1:1", "outside the shop"),
        (_circle, "parts.yaml:1:1", "cannot be read"),
    ],
)
def test_what_is_no_file_is_one_error(
    spoil: Callable[[FilePath], None], place: str, words: str, shop: FilePath
) -> None:
    spoil(shop / "parts.yaml")
    code, lines, complaints = lint()
    assert (code, complaints) == (2, "")
    (error,) = errors_of(lines, place.partition(":")[0])
    assert error.startswith(f"{place}: error: "), error
    assert words in error, error
    assert any("[feeder-slot-wrong]" in line for line in lines)


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads every file")
def test_an_unreadable_file_is_one_error(shop: FilePath) -> None:
    (shop / "parts.yaml").chmod(0)
    code, lines, _ = lint()
    assert code == 2
    assert "cannot be read" in errors_of(lines, "parts.yaml")[0]


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("R2,10k-0603,10.0", "R2,10k-0603,1O.0", "3:13", "not a number"),
        ("R2,10k-0603,10.0", "R2,10k-0603,nan", "3:13", "not a number"),
        ("R2,10k-0603,10.0", "R2,10k-0603,1e400", "3:13", "too large"),
        ("R2,10k-0603,10.0,11.0,0,top", "R2,10k-0603,10.0,11.0", "3:1", "4 cells"),
        ("R2,10k-0603,10.0", 'R2,"10k-0603,10.0', "3:1", "row is incomplete"),
        ("reference,part", "thing,part", "1:7", "No column"),
        ("R2,10k", ",10k", "3:1", "no reference"),
    ],
)
def test_a_bad_list_is_one_error(
    old: str, new: str, place: str, words: str, shop: FilePath
) -> None:
    path = shop / "jobs/first-board/placements.csv"
    path.write_text(path.read_text().replace(old, new))
    code, lines, complaints = lint()
    assert (code, complaints) == (2, "")
    (error,) = errors_of(lines, "jobs/first-board/placements.csv")
    assert error.startswith(f"jobs/first-board/placements.csv:{place}: error: "), error
    assert words in error, error
    assert any("[feeder-slot-wrong]" in line for line in lines)


@pytest.mark.parametrize(
    ("written", "do"), [('"-2"', "Write -2 without quotes."), ('"-2,5"', "with a point: -2.5")]
)
def test_a_text_that_looks_like_a_number_is_called_one(
    written: str, do: str, shop: FilePath
) -> None:
    machine = shop / "placer.yaml"
    text = re.sub(r"(?m)^traverse_z: \S+", f"traverse_z: {written}", machine.read_text())
    machine.write_text(text)
    out = io.StringIO()
    assert main(["lint"], out, out) == 2
    assert f"traverse_z is the text {written}: a number is expected." in out.getvalue()
    assert do in out.getvalue()


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("usb_speed", "It belongs in another place: device.usb_speed."),
        ("pitch_mm", "Known here: "),
        ("tip_outer_mm", "It belongs in another place: nozzles.NAME.tip_outer_mm."),
    ],
)
def test_a_key_of_another_level_is_named_with_its_place(
    shop: FilePath, key: str, says: str
) -> None:
    file = shop / "placer.yaml"
    file.write_text(file.read_text().replace("    aim: up\n", f"    aim: up\n    {key}: 1\n"))
    (fault,) = read_shop(folder_state(shop)).faults
    assert fault.rule == "key-unknown"
    assert str(fault.remedy[0]).startswith(says)


@pytest.mark.parametrize(
    ("file", "good", "bad"),
    [
        ("shop.yaml", "parts: [parts.yaml]", "parts: parts.yaml"),
        ("shop.yaml", "parts: [parts.yaml]", "prts: [parts.yaml]"),
        ("parts.yaml", "\noutlines:", "\noutlnes:"),
        ("placer.yaml", "\nnozzles:", "\nnozzels:"),
        ("jobs/first-board/job.yaml", "\nplacements:", "\nplacement:"),
    ],
)
def test_what_a_misspelled_key_held_is_not_called_missing(
    file: str, good: str, bad: str, shop: FilePath
) -> None:
    text = (shop / file).read_text()
    assert text.count(good) == 1
    (shop / file).write_text(text.replace(good, bad))
    _, lines, _ = lint()
    (found,) = [line for line in lines if "feeder-slot-wrong" not in line]
    assert found.startswith(f"{file}:")


def test_every_fault_of_one_file_is_told_at_once(shop: FilePath) -> None:
    machine = shop / "placer.yaml"
    text = machine.read_text()
    text = text.replace("aim: down", "aim: sideways").replace("mains_hz: 50", "mains_hz: 49")
    text = text.replace("bore_mm: 0.4", "bore: 0.4")
    machine.write_text(text)
    code, lines, _ = lint()
    assert code == 2
    said = "\n".join(errors_of(lines, "placer.yaml"))
    for words in ("cameras.head.aim is sideways", "mains_hz is 49", "nozzles.bore-0-4.bore is not"):
        assert words in said


def test_a_folder_without_a_shop_is_a_complaint(tmp_path: FilePath, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    code, lines, complaints = lint()
    assert (code, lines) == (2, [])
    assert "No shop here" in complaints


def test_a_hundred_thousand_unknown_keys_are_counted_not_listed(shop: FilePath) -> None:
    parts = shop / "parts.yaml"
    keys = "".join(f"unknown{number}: 1\n" for number in range(100_000))
    parts.write_text(parts.read_text() + keys)
    code, lines, _ = lint()
    assert code == 2
    assert len(lines) < 100
    assert any("99,950 more faults like those shown" in line for line in lines)


@pytest.mark.parametrize(
    "more",
    [
        "".join(f"  g{number}: {{slot: x}}\n" for number in range(20_000)),
        "  h: &h {"
        + ", ".join(f"remainin{number}: 1" for number in range(40))
        + "}\n"
        + "".join(f"  h{number}: *h\n" for number in range(1_600)),
    ],
    ids=["20,000 feeders", "1,600 aliases"],
)
def test_entries_with_faults_by_the_thousand_take_no_minutes(shop: FilePath, more: str) -> None:
    """Quadratic, they took 31 s and 5 s: the runner's own limit is 20 s of the processor."""
    feeders = shop / "feeders.yaml"
    feeders.write_text(feeders.read_text() + more)
    with bounded(20):
        code, lines, _ = lint()
    assert code == 2
    assert len(lines) < 100


def test_links_to_their_own_folder_are_not_followed_round(shop: FilePath) -> None:
    for number in range(20):
        (shop / f"link{number}").symlink_to(".")
    root = shop / "shop.yaml"
    root.write_text(root.read_text().replace("parts: [parts.yaml]", 'parts: ["*/*/*/parts.yaml"]'))
    code, lines, _ = lint()
    assert code in (1, 2)
    assert lines


def test_names_outside_the_shop_are_never_listed(shop: FilePath) -> None:
    root = shop / "shop.yaml"
    root.write_text(root.read_text().replace("parts: [parts.yaml]", 'parts: ["/proc/*/environ"]'))
    code, lines, _ = lint()
    assert code == 2
    assert any("/proc/*/environ is outside the shop's folder" in line for line in lines)
    assert not any("/proc/1" in line for line in lines)


@pytest.mark.parametrize("name", ["out", "known-good"])
def test_names_behind_a_link_out_of_the_shop_are_never_listed(
    shop: FilePath, tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    outside = tmp_path_factory.mktemp("outside")
    (outside / "1-secret").mkdir()
    (outside / "secret.yaml").write_text("describes: parts\n")
    (shop / name).symlink_to(outside)
    root = shop / "shop.yaml"
    root.write_text(root.read_text().replace("parts: [parts.yaml]", 'parts: ["out/*.yaml"]'))
    code, lines, _ = lint()
    assert code
    assert not any("secret" in line for line in lines)


@pytest.mark.parametrize("name", ["part: {0}", "slot: {0}", "{0}: 1"])
def test_names_and_values_without_end_are_cut(shop: FilePath, name: str) -> None:
    feeders = shop / "feeders.yaml"
    text = feeders.read_text().replace("    slot: 2\n", f"    {name.format('k' * 5_000)}\n")
    feeders.write_text(text)
    out = io.StringIO()
    assert main(["lint", "--shop", str(shop)], out, out)
    said = [line for line in out.getvalue().splitlines() if "jobcheck" not in line]
    assert max(map(len, said)) < 260
