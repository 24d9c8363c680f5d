"""The transcripts read as the command line prints."""

from pathlib import Path as FilePath

import pytest

from tests.golden.play import play, transcripts


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_transcript(path: FilePath, tmp_path: FilePath) -> None:
    expected = path.read_text(encoding="utf-8")
    assert play(expected, tmp_path) == expected


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_lines_are_at_most_80_columns(path: FilePath) -> None:
    for line in path.read_text(encoding="utf-8").splitlines():
        can_break = not line.startswith(("$", "#", "Next:", "To write it:", "  at  "))
        assert len(line) <= 80 or not can_break or " " not in line.strip(), line
