"""A page is written as a whole, and never over a file that jobcheck did not make."""

import io
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main
from jobcheck.sources.state.writing import UNFINISHED, WriteRefused, write_page
from tests.golden.play import EXAMPLES

SHOP = str(EXAMPLES / "soil-logger")
PAGE = "<!-- Made by jobcheck -->\n<p>old</p>\n"


_SHOWS: dict[str, list[str]] = {
    "board": [],
    "machine": [],
    "cameras": [],
    "part": ["D1"],
    "change": [],
}


def jobcheck(*words: str) -> tuple[int, str]:
    out, err = io.StringIO(), io.StringIO()
    return main([*words], out, err, "jobcheck"), out.getvalue() + err.getvalue()


def test_a_page_is_replaced(tmp_path: FilePath) -> None:
    page = tmp_path / "page.html"
    write_page(page, PAGE)
    page.chmod(0o640)
    write_page(page, PAGE + "new")
    assert page.read_text() == PAGE + "new"
    assert page.stat().st_mode & 0o777 == 0o640
    assert [one.name for one in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.parametrize("make", ["notes", "folder", "link"])
def test_another_file_is_kept(tmp_path: FilePath, make: str) -> None:
    other, page = tmp_path / "other.html", tmp_path / "page.html"
    other.write_text("mine")
    if make == "folder":
        page.mkdir()
    elif make == "link":
        page.symlink_to(other)
    else:
        page.write_text("mine")
    with pytest.raises(WriteRefused):
        write_page(page, PAGE)
    assert other.read_text() == "mine"
    assert page.is_dir() if make == "folder" else page.read_text() == "mine"


def test_a_failure_leaves_the_old_page(tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.html"
    write_page(page, PAGE)

    def full(*_args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(WriteRefused, match="the disk is full"):
        write_page(page, PAGE + "new")
    assert page.read_text() == PAGE
    assert not [one for one in tmp_path.iterdir() if one.name.startswith(UNFINISHED)]


def test_no_description_is_ever_overwritten() -> None:
    code, said = jobcheck("picture", "soil-logger", "-o", f"{SHOP}/placer.yaml", "--shop", SHOP)
    assert code == 2
    assert "does not end in .html or .svg" in " ".join(said.split())


def test_each_picture_is_written(tmp_path: FilePath) -> None:
    for name, words in _SHOWS.items():
        for ending in ("html", "svg"):
            file = tmp_path / f"{name}.{ending}"
            call = ["picture", "soil-logger", *words, "--show", name, "-o", str(file)]
            code, said = jobcheck(*call, "--shop", SHOP)
            assert (code, said) == (0, f"Written: {file}\n")
            assert file.stat().st_size > 1000


def test_a_name_goes_with_a_part_or_a_camera(tmp_path: FilePath) -> None:
    refused = {
        "--show board takes no name: leave D1 out.": ["D1"],
        "Name the placement: --show part REFERENCE.": ["--show", "part"],
        "Camera left does not exist. Cameras: head, up.": ["--show", "cameras", "left"],
    }
    for complaint, words in refused.items():
        call = ["picture", "soil-logger", *words, "-o", str(tmp_path / "a.svg")]
        code, said = jobcheck(*call, "--shop", SHOP)
        assert (code, said) == (2, f"{complaint}\n")
    assert not list(tmp_path.iterdir())
