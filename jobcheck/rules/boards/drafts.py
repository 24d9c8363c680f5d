"""The rule about jobs that are not described whole yet."""

from __future__ import annotations

import re
from collections.abc import Iterator

from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import JobDraft
from jobcheck.shop.paths import natural
from jobcheck.wording import count, listed, near


@rule(
    Level.ERROR,
    fails="jobs.first-board.seat: ~",
    passes="jobs.first-board.seat: ~\njobs.first-board.run: ~",
)
def job_incomplete(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A job with a run lacks its side, its board or its seat, or places a misspelled part.

    A job without a run may be a list alone: what needs side, board or seat is not checked, and so
    is a part that nobody described. A part whose name is nearly a described one is an error in
    every job.

    On the machine: the placements of the job have no place; none of them was checked.

    To do: describe what is missing.

    Source: frames of board and machine, arithmetic.
    """
    for name in sorted(look.shop.drafts, key=natural):
        job = look.shop.drafts[name]
        lacks = listed([f"no {key}" for key in job.lacks])
        placements = len(job.placements.by_reference)
        yield from _parts(look, name, job)
        if job.run is None:
            yield Unchecked(
                f"{count(placements, 'placement')} of {name}",
                f"{lacks} in {name}",
                job.lacks[0],
                tuple(("jobs", name, key) for key in job.lacks),
                placements,
            )
            continue
        yield Problem(
            path=("jobs", name, "run"),
            message=f"{name} has a run, but {lacks}.",
            consequence=f"Nothing says where its {count(placements, 'placement')} go, and none of "
            "them was checked.",
            remedy=(f"Describe {listed(list(job.lacks))} in its job.yaml, or remove run.",),
        )


def _parts(look: Inspection, name: str, job: JobDraft) -> Iterator[Problem | Unchecked]:
    """Yield misspelled parts, and how many placements have a part that is not described."""
    unknown: dict[str, list[str]] = {}
    for reference, placement in job.placements.by_reference.items():
        if placement.part and placement.fitted and placement.part not in look.shop.parts:
            unknown.setdefault(placement.part, []).append(reference)
    for part, references in list(unknown.items()):
        like = _misspelled(look, part)
        if like is None:
            continue
        del unknown[part]
        yield Problem(
            path=("jobs", name, "placements", references[0], "part"),
            message=f"{part} is not described; {like} is.",
            observed=f"{count(len(references), 'placement')}: {listed(references)}",
            consequence="The part cannot be placed or checked.",
            remedy=(f"Write {like}, or describe {part}.",),
        )
    if unknown:
        amount = sum(map(len, unknown.values()))
        yield Unchecked(
            f"parts of {count(amount, 'placement')} of {name}",
            f"{listed(list(unknown))} not described",
            "parts",
            (("parts",),),
            amount,
        )


def _misspelled(look: Inspection, part: str) -> str | None:
    """Return the part that a name nearly is: another number is another value, and no slip."""
    like = near(part, look.shop.parts) if look.shop.understood(("parts",)) else None
    if like is None or re.findall(r"\d+", like) != re.findall(r"\d+", part):
        return None
    return like
