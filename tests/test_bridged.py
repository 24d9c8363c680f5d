"""The bridged example: as its generator makes it, clean, and agreeing with its controller."""

from datetime import date
from pathlib import Path as FilePath

import pytest

from jobcheck.commands.lint import lint_state
from jobcheck.rules.registry import RULES
from jobcheck.sources.state.state import folder_state
from tests.bridged import BRIDGED, make


def tree(folder: FilePath) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "controller-copies" not in path.parts
    }


def test_the_example_is_as_its_generator_makes_it(tmp_path: FilePath) -> None:
    """After a change to examples/soil-logger: python -m tests.bridged."""
    make(tmp_path / "bridged")
    made, there = tree(tmp_path / "bridged"), tree(BRIDGED)
    assert sorted(made) == sorted(there)
    assert [name for name in made if made[name] != there[name]] == []


def test_the_example_is_clean() -> None:
    linted = lint_state(BRIDGED, folder_state(BRIDGED), RULES, date(2026, 11, 25))
    assert linted.findings == ()
    shop = linted.reading.shop
    assert shop is not None
    assert shop.bridge is not None


@pytest.mark.parametrize("name", ["optics.xml", "shelf.json", "axes.ini"])
def test_the_controller_s_files_are_untidy(name: str) -> None:
    """Several spellings and line ends: an example that is tidy would prove little."""
    data = (BRIDGED / "controller" / name).read_bytes()
    marks = {
        "optics.xml": (b"&quot;", b"CDATA", b"='", b'="', b"<!--", b"<!DOCTYPE"),
        "shelf.json": (b"\t", b"\\u00b5", b"[ ", b"null"),
        "axes.ini": (b"\r\n", b"\xb5", b" ; ", b": ", b'"'),
    }
    assert all(mark in data for mark in marks[name])
