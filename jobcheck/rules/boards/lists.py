"""Rules about a job's lists: repeated, missing and lost rows, what is built, list and bill."""

from __future__ import annotations

import re
from collections.abc import Iterator

from jobcheck.facts.list_changes import rows_lost
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed


def _jobs(shop: Shop) -> Iterator[tuple[str, Job]]:
    """Yield the jobs whose placements are understood, in natural order."""
    for name in sorted(shop.jobs, key=natural):
        if shop.understood(("jobs", name, "placements")):
            yield name, shop.jobs[name]


def _also(name: str, block: str, references: list[str]) -> tuple[Path, ...]:
    return tuple(("jobs", name, block, reference) for reference in references[1:6])


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="""
    jobs.first-board.placements."R1 ": {part: 10k-0603, x: 34, y: 8, rotation: 0, side: top}
    """,
    passes="""
    jobs.first-board.placements."R4 ": {part: 10k-0603, x: 34, y: 8, rotation: 0, side: top}
    jobs.first-board.bill.R4: {part: 10k-0603}
    """,
)
def reference_repeated(look: Inspection) -> Iterator[Problem]:
    """A list has one reference more than once; blanks around it do not count.

    On the machine: only the first row is placed. If another row is right, the part is in a wrong
    place, or is another part.

    To do: keep one row for each reference. In a bill this is a warning.

    Source: a reference designator names one item: common practice, no published source.
    """
    found: dict[tuple[str, str], dict[str, int]] = {}
    for (_, job, block, reference), times in look.shop.repeated.items():
        found.setdefault((job, block), {})[reference] = times
    for job, block in sorted(found, key=lambda at: (natural(at[0]), at[1])):
        often = found[job, block]
        references = sorted(often, key=natural)
        is_bill = block == "bill"
        what = "bill" if is_bill else "placement list"
        first = references[0]
        yield Problem(
            path=("jobs", job, block, first),
            related=_also(job, block, references),
            message=f"{first} is {often[first]} times in the {what} of {job}."
            if len(references) == 1
            else f"{len(references)} references are more than once in the {what} of {job}.",
            observed=listed([f"{reference} {often[reference]} times" for reference in references]),
            consequence="Only the first row counts; the part may be another, or the count wrong."
            if is_bill
            else "Only the first row is placed; the part may be in a wrong place.",
            remedy=("Keep one row for each reference.",),
            level=Level.WARNING if is_bill else None,
        )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.U1.part: ~",
    passes="""
    jobs.first-board.placements.U1: {x: 24, y: 20, side: top, fitted: no}
    jobs.first-board.bill.U1.fitted: no
    """,
)
def placement_without_part(look: Inspection) -> Iterator[Problem]:
    """A placement has no part.

    It is an error in a job with a `run`, otherwise a warning. Test points, holes and
    logos without a part are usual in a list: all of them are one warning.

    On the machine: no feeder can be chosen; the run stops there or leaves it out.

    To do: name the part in the placement list; the bill is not used for it. For rows that are
    not parts, write `fitted: no`.

    Source: common practice, no published source.
    """
    for name, job in _jobs(look.shop):
        placed = look.facts.usage.placed[name]
        if None not in placed.parts:
            continue
        rows = zip(placed.references, placed.parts, strict=True)
        nameless = sorted((ref for ref, part in rows if part is None), key=natural)
        ordinary = [ref for ref in nameless if _NO_PART.fullmatch(ref)]
        others = [ref for ref in nameless if ref not in ordinary]
        if ordinary:
            yield _without_part(
                name,
                ordinary,
                f"{count(len(ordinary), 'row')} of {name} without a part may not be parts: "
                "test points, holes or logos.",
                "If they are not parts, nothing is missing; until then a run may stop there.",
                "Write `fitted: no` for them, or name the part.",
                Level.WARNING,
            )
        if others:
            bill = job.bill.by_reference if job.bill else {}
            billed = [f"{ref} {bill[ref].part}" for ref in others if ref in bill and bill[ref].part]
            amount = count(len(others), "placement")
            yield _without_part(
                name,
                others,
                f"{others[0]} of {name} has no part."
                if len(others) == 1
                else f"{amount} of {name} have no part.",
                f"{amount} a board would be left out, or stop the run.",
                "Name the part of each in the placement list."
                + f" The bill has {listed(billed, 4)}." * bool(billed),
                None if job.run else Level.WARNING,
            )


_NO_PART = re.compile(r"(TP|H|MH|LOGO|G)\d*", re.IGNORECASE)
"""References of test points, holes and logos: common practice, no published source."""


def _without_part(
    name: str, refs: list[str], message: str, consequence: str, remedy: str, level: Level | None
) -> Problem:
    return Problem(
        path=("jobs", name, "placements", refs[0], "part"),
        related=_also(name, "placements", refs),
        message=message,
        observed=listed(refs),
        consequence=consequence,
        remedy=(remedy,),
        level=level,
    )


# rows lost


@rule(
    Level.ERROR,
    compares=True,
    fails="jobs.first-board.placements.D1: ~\njobs.first-board.placements.D2: ~\n"
    "jobs.first-board.placements.U1: ~\njobs.first-board.bill: ~",
    passes="jobs.first-board.placements.U1: ~\njobs.first-board.bill.U1: ~",
)
def list_rows_lost(look: Inspection) -> Iterator[Problem]:
    """A placement list was cut off, halved or emptied since the last known-good record.

    Its last three rows or more, or half of all rows are gone, and no new ones came.

    On the machine: the parts of those rows are missing on every board.

    To do: put the list back. If they were left out on purpose, record the shop anew.

    Source: arithmetic; three rows and half of them: common practice, no published source.
    """
    for name, job in _jobs(look.shop):
        good = look.good.jobs.get(name) if look.good else None
        cut = rows_lost(good, job) if good else None
        if cut is None:
            continue
        path: Path = ("jobs", name, "placements")
        yield Problem(
            path=path,
            message=f"{cut.says()} in the list of {name}.",
            observed=f"{count(cut.of - cut.lost, 'row')}",
            expected=f"{count(cut.of, 'row')}, by the record; {cut.first} is row {cut.row}",
            consequence=f"{count(cut.lost, 'placement')} would be missing on each board.",
            remedy=(
                "Put the recorded list back:",
                command("restore", show(path)),
                "If the rows were left out on purpose, record it:",
                command("keep", "--label", "TEXT", "--on-purpose", show(path)),
            ),
            suppresses=(
                ("bill-contradicts-placements", ("jobs", name, "bill")),
                ("placements-not-built", ("jobs", name)),
            ),
            is_loss=True,
        )


# the side that is built


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.side: bottom",
    passes="""
    jobs.first-board.side: bottom
    jobs.first-board.placements.U1.side: bottom
    """,
)
def placements_not_built(look: Inspection) -> Iterator[Problem]:
    """A job has nothing to place on its side, or neither of a board's two jobs places a row.

    A side without a fitted placement is an error; an empty list is one in a job with a `run`,
    otherwise a warning. So is a reference that neither of two jobs builds: jobs are taken for the
    two sides of one board if the second builds half or more of what the first leaves to it.

    On the machine: the run ends before it places anything, or parts are missing after both runs.

    To do: correct the job's side or that of the placements, or add the reference to the list of
    the job that builds its side. A list with both sides is usual: the other side has its own job.

    Source: common practice, no published source.
    """
    yield from _nothing_placed(look)
    yield from _built_by_no_job(look)


def _nothing_placed(look: Inspection) -> Iterator[Problem]:
    for name, job in _jobs(look.shop):
        placed = look.facts.usage.placed[name]
        if placed.references:
            continue
        listing = job.placements.by_reference
        on_side = len(placed.left_out)
        if not listing:
            says, now = f"{name} has nothing to place: its list is empty.", "no placements"
        elif on_side:
            says = f"{name} builds the {job.side}, but nothing there is fitted."
            now = f"{count(on_side, 'placement')} on the {job.side}, none fitted"
        else:
            other = "top" if job.side == "bottom" else "bottom"
            says = f"{name} builds the {job.side}, but all its placements are on the {other}."
            now = f"side {job.side}; {count(len(listing), 'placement')} on the {other}"
        yield Problem(
            path=("jobs", name, "placements") if not listing else ("jobs", name, "side"),
            message=says,
            observed=now,
            consequence="Nothing would be placed.",
            remedy=(
                "Correct the side of the job, or those of the placements."
                if listing
                else "Add the placements.",
            ),
            level=None if listing or job.run else Level.WARNING,
        )


def _built_by_no_job(look: Inspection) -> Iterator[Problem]:
    for name, job in _jobs(look.shop):
        listing = job.placements.by_reference
        left = {ref for ref, row in listing.items() if row.fitted and row.side != job.side}
        for other, second in _jobs(look.shop):
            lost = left - set(look.facts.usage.placed[other].references)
            if second.side == job.side or not lost or 2 * len(lost) > len(left):
                continue
            missing = sorted(lost, key=natural)
            yield Problem(
                path=("jobs", name, "placements", missing[0]),
                related=(("jobs", other, "placements"), *_also(name, "placements", missing)),
                message=f"{count(len(missing), 'fitted placement')} of {name} on the "
                f"{second.side} {'is' if len(missing) == 1 else 'are'} not placed by {other}.",
                observed=listed(missing),
                consequence=f"If {other} builds the other side, they would be missing.",
                remedy=(f"Add them to the list of {other}, or write `fitted: no`.",),
                level=Level.WARNING,
            )


# list and bill


@rule(
    Level.ERROR,
    Level.WARNING,
    Level.NOTE,
    fails="jobs.first-board.bill.C1.part: 10k-0603",
    passes="jobs.first-board.bill.C1.part: ~\n"
    "jobs.first-board.bill.R4: {part: 10k-0603, fitted: no}",
)
def bill_contradicts_placements(look: Inspection) -> Iterator[Problem]:
    """Bill and placement list differ: in a reference, its part, or whether it is fitted.

    It is an error if they name two parts of the shop, or if the list alone has the part fitted. It
    is a warning if one of them lacks the reference, since it may be fitted by hand, and a note if
    the shop has none of the parts that the bill has more.

    On the machine: the placement list is followed, whatever the bill says.

    To do: find out which of the two is the newer, and correct the other. For parts that are fitted
    by hand, write `fitted: no` in both.

    Source: two documents of one board cannot both be right.
    """
    for name, job in _jobs(look.shop):
        bill = job.bill.by_reference if job.bill else {}
        listing = job.placements.by_reference
        if not bill or not listing or not look.shop.understood(("jobs", name, "bill")):
            continue
        found = _differences(look, name)
        if not found:
            continue
        references = sorted(found, key=lambda ref: (found[ref][0].rank, natural(ref)))
        first = references[0]
        apart = not bill.keys() & listing.keys()
        paths = [("jobs", name, "bill" if r in bill else "placements", r) for r in references[:6]]
        other: Path = ("jobs", name, "placements" if first in bill else "bill")
        yield Problem(
            path=paths[0],
            related=((*other, first) if first in bill and first in listing else other, *paths[1:]),
            message=f"bill and placement list of {name} have no reference in common."
            if apart
            else f"bill and placement list of {name} contradict each other at "
            + (first if len(references) == 1 else f"{len(references)} references")
            + ".",
            observed=listed([f"{ref} {found[ref][1]}" for ref in references], 4),
            consequence="The machine would follow the placement list, whatever the bill says.",
            remedy=(
                "Check that they belong to the same board."
                if apart
                else "Find out which of the two is the newer, and correct the other. For parts "
                "that are fitted by hand, write `fitted: no`.",
            ),
            level=found[first][0],
        )


def _differences(look: Inspection, name: str) -> dict[str, tuple[Level, str]]:
    """Return reference -> level and words of each difference between list and bill.

    A row without a part, or with an unknown one, has its own finding.
    """
    job, parts = look.shop.jobs[name], look.shop.parts
    placed = look.facts.usage.placed[name]
    bill = job.bill.by_reference if job.bill else {}
    found: dict[str, tuple[Level, str]] = {}
    for ref, part in zip(placed.references, placed.parts, strict=True):
        item = bill.get(ref)
        if part is None or (item and item.fitted and item.part in (part, None)):
            continue
        if item is None:
            found[ref] = Level.WARNING, f"({part}) in the list only"
        elif not item.fitted:
            found[ref] = Level.ERROR, "fitted in the list only"
        elif part in parts:
            level = Level.ERROR if item.part in parts else Level.WARNING
            found[ref] = level, f"{part}, in the bill {item.part}"
    for ref in placed.left_out:
        if ref in bill and bill[ref].fitted:
            found[ref] = Level.WARNING, "fitted in the bill only"
    for ref in bill.keys() - job.placements.by_reference.keys():
        if bill[ref].fitted:
            level = Level.WARNING if bill[ref].part in parts else Level.NOTE
            found[ref] = level, f"({bill[ref].part or 'no part'}) in the bill only"
    return found
