"""Runs a transcript and returns what it should read."""

import io
import os
import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path as FilePath

import jobcheck.devices.system
from jobcheck.cli.main import main
from tests.support.edited import measured_starter
from tests.support.emulated_cameras import Camera, Emulated, after_power_up, ordinary
from tests.support.workshop import workshop

HERE = FilePath(__file__).parent
EXAMPLES = HERE.parent.parent / "examples"
DAY = ("--as-of", "2026-11-25")

CAMERAS: dict[str, Callable[[], list[Camera]]] = {
    "$ plug in up as after a power-up": lambda: [after_power_up(ordinary())],
    "$ plug in no camera": list,
}
"""Emulated cameras of the example, in the place of the system's."""


def transcripts() -> list[FilePath]:
    """Return all transcripts."""
    return sorted(HERE.glob("*.txt"))


def play(transcript: str, folder: FilePath) -> str:
    """Run the commands of a transcript in a folder with fresh shops and return it as it reads."""
    return "\n".join(steps(transcript, folder))


def steps(transcript: str, folder: FilePath) -> Iterator[str]:
    """Run a transcript and yield what each of its lines reads, in the state after that line."""
    for example in EXAMPLES.iterdir():
        if (example / "shop.yaml").exists():
            shutil.copytree(example, folder / example.name)
    measured_starter(folder / "starter")
    shutil.copytree(HERE / "listings", folder / "listings")
    before, linux = FilePath.cwd(), jobcheck.devices.system.Linux
    os.chdir(folder)
    try:
        commands = [line for line in transcript.splitlines() if line.startswith(("$ ", "# "))]
        yield from map(_run, commands)
    finally:
        os.chdir(before)
        jobcheck.devices.system.Linux = linux  # type: ignore[misc]


def _run(command: str) -> str:
    if command.startswith("# "):
        return f"{command}\n"
    if command.startswith("$ put "):
        name, _, change = command.removeprefix("$ put ").partition(": ")
        old, _, new = change.partition(" => ")
        text = FilePath(name).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
        FilePath(name).write_text(text.replace(old, new), encoding="utf-8")
        return f"{command}\n"
    if command in CAMERAS:
        system = Emulated(*CAMERAS[command]())
        jobcheck.devices.system.Linux = lambda: system  # type: ignore[assignment,misc,return-value]
        return f"{command}\n"
    words = shlex.split(command.removeprefix("$ jobcheck"))
    out, err = io.StringIO(), io.StringIO()
    with workshop():
        code = main([*DAY, *words], out, err, "jobcheck")
    return f"{command}\n{out.getvalue()}{err.getvalue()}exit {code}\n"
