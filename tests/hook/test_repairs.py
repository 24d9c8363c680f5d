"""Every repair that a stopped commit proposes is pasted as printed, and puts back what was lost."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tests.hook.conftest import bare_hook
from tests.hook.repository import PROJECT, Outcome, Repository, run
from tests.hook.test_records import LOST_GAIN, kept, recorded

__all__ = ["kept", "recorded"]
SOD = (
    "  sod-123: {body_mm: [2.8, 1.8], height_mm: 1.1, terminals: 2, polarised: true, "
    "pin1_means: cathode, pin1_at_zero: left, zero: A, mass_mg: 10, nozzles: [bore-1-0], "
    "recognition: diode}\n"
)
LOSSES = {
    "a control": (LOST_GAIN,),
    "a height": (("shop/parts.yaml", "height_mm: 1.25, ", ""),),
    "the list of a job": (
        ("shop/jobs/first-board/job.yaml", "{file: placements.csv, units: mm", "{units: mm"),
    ),
    "a file that shop.yaml names": (("shop/shop.yaml", "feeders: [feeders.yaml]\n", ""),),
    "that a part is polarised": (
        (
            "shop/parts.yaml",
            "polarised: true, pin1_means: cathode, pin1_at_zero: left, zero: A",
            "polarised: false, zero: A",
        ),
    ),
    "a pick point": (
        ("shop/feeders.yaml", "    pick: {x: 52.1, y: 8.1, z: -18.2, rotation: 0}\n", ""),
    ),
    "a slot": (("shop/feeders.yaml", "slot: 2\n", "slot: 1\n"),),
    "an outline": (("shop/parts.yaml", SOD, ""),),
}


def pasted(repository: Repository, line: str) -> Outcome:
    path = os.pathsep.join((str(Path(sys.executable).parent), repository.environment["PATH"]))
    here = repository.environment | {"PYTHONPATH": str(PROJECT), "PATH": path}
    return run(["sh", "-c", line], repository.top, here)


def repairs(said: str) -> list[str]:
    """Return the repairs that are printed: each restore, and the line after it."""
    lines = [line.strip() for line in said.splitlines()]
    places = [number for number, line in enumerate(lines) if "-m jobcheck restore " in line]
    return [line for number in places for line in lines[number : number + 2]]


@pytest.mark.parametrize("name", LOSSES)
def test_what_was_lost_is_back_in_the_files_and_in_the_index(
    recorded: Repository, name: str
) -> None:
    bare_hook(recorded)
    for loss in LOSSES[name]:
        recorded.stage(*loss)
    stopped = recorded.commit()
    assert not stopped.passed
    proposed = repairs(stopped.text)
    assert proposed, stopped.text
    for restore, add in zip(proposed[::2], proposed[1::2], strict=True):
        assert " --write" in restore, stopped.text
        assert add.startswith("git add "), stopped.text
        for line in (restore, add):
            done = pasted(recorded, line)
            assert done.passed, f"{line}\n{done.text}"
    assert recorded.git("diff", "HEAD") == ""
    assert recorded.git("status", "--porcelain") == ""
