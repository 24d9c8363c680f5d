"""The transcripts read as the command line prints."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path as FilePath

import pytest

from tests.golden.play import HERE, play, steps, transcripts


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_transcript(path: FilePath, tmp_path: FilePath) -> None:
    expected = path.read_text(encoding="utf-8")
    assert play(expected, tmp_path) == expected


_COMMAND = re.compile(r"\s+((?:jobcheck|git|cp|pre-commit|v4l2-ctl) .*)")


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_lines_are_at_most_80_columns(path: FilePath) -> None:
    """Commands, and what programs read, stay on one line."""
    for line in path.read_text(encoding="utf-8").splitlines():
        is_for_programs = re.search(r":\d+:\d+: |^ *\"\w+\": ", line)
        if not line.startswith(("$", "#")) and not is_for_programs and not _COMMAND.match(line):
            assert len(line) <= 80, line


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_next_comes_last_and_once(path: FilePath) -> None:
    for shown in path.read_text(encoding="utf-8").split("\n$ ")[1:]:
        lines = shown.splitlines()
        at = [number for number, line in enumerate(lines) if line == "Next"]
        assert len(at) <= 1, shown
        for number in at:
            rest = [line for line in lines[number + 1 :] if line and not line.startswith("exit ")]
            assert rest, shown
            assert all(_COMMAND.match(line) or line.startswith("#") for line in rest), shown


_DEVICES = ("set", "seen")
_FILLED = {
    "TEXT": "in words",
    "FILE": "bridged/controller/optics.xml",
    "FOLDER": "starter",
    "SELECTION": "cameras.up",
    "VALUE": "4",
    "UNIT": "mm",
    "RULE": "height-missing",
}


@pytest.mark.parametrize("path", transcripts(), ids=lambda path: path.stem)
def test_every_proposed_command_is_understood_as_it_is_printed(
    path: FilePath, tmp_path: FilePath
) -> None:
    """Each runs in a shell, in the state in which it was proposed; devices are left out."""
    folder = tmp_path / "played"
    folder.mkdir()
    number = 0
    tried: set[tuple[str, str]] = set()
    for shown in steps(path.read_text(encoding="utf-8"), folder):
        for line in shown.splitlines():
            found = _COMMAND.fullmatch(line)
            if not found or _is_left_out(found[1]):
                continue
            number += 1
            copy = tmp_path / f"copy-{number}"
            shutil.copytree(folder, copy)
            code, complaints = _shell(_filled(found[1]), copy)
            tried.add((shown.splitlines()[0], found[1]))
            assert code in (0, 1) or (code == 2 and not complaints), (shown, line, complaints)
    assert tried or path.stem in ("where", "pages")


def _is_left_out(line: str) -> bool:
    program, *words = shlex.split(line)
    return program in ("v4l2-ctl", "pre-commit") or (program == "jobcheck" and words[0] in _DEVICES)


def _filled(line: str) -> str:
    words = line.split(" ")  # as it is printed: its quotes stay
    return " ".join(shlex.quote(_FILLED[word]) if word in _FILLED else word for word in words)


def _shell(line: str, folder: FilePath) -> tuple[int, str]:
    environment = {
        **os.environ,
        "PATH": f"{FilePath(sys.executable).parent}:{os.environ['PATH']}",
        "PYTHONPATH": str(HERE.parent.parent),
        "GIT_CEILING_DIRECTORIES": str(folder.parent),
    }
    if line.startswith("git "):
        me = ("-c", "user.name=a", "-c", "user.email=a@example.org")
        for words in (["init", "-q"], ["add", "."], [*me, "commit", "-q", "-m", "as played"]):
            subprocess.run(["git", *words], cwd=folder, env=environment, check=True)
    done = subprocess.run(
        ["sh", "-c", line], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stderr
