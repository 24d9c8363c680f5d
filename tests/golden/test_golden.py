"""The transcripts read as the command line prints."""

import re
from pathlib import Path as FilePath

import pytest

from tests.golden.play import play, transcripts


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_transcript(path: FilePath, tmp_path: FilePath) -> None:
    expected = path.read_text(encoding="utf-8")
    assert play(expected, tmp_path) == expected


_PASTED = ("$", "#", "Next:", "To write it:", "Not meant:", "Meant:")


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_lines_are_at_most_80_columns(path: FilePath) -> None:
    """What is pasted, and what programs read, stays on one line."""
    for line in path.read_text(encoding="utf-8").splitlines():
        is_for_programs = re.search(r":\d+:\d+: |^ *\"\w+\": ", line)
        is_command = re.match(r" +(jobcheck|git|v4l2-ctl) ", line)
        if not line.startswith(_PASTED) and not is_for_programs and not is_command:
            assert len(line) <= 80, line
