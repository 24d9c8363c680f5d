"""Rules about a job's lists: repeated, missing and lost rows, the side, list and bill."""

from __future__ import annotations

import re
from collections.abc import Iterator

from jobcheck.facts.list_changes import rotation_change, rows_lost
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, number


def _jobs(shop: Shop) -> Iterator[tuple[str, Job]]:
    """Yield the jobs whose placements are understood, in natural order."""
    for name in sorted(shop.jobs, key=natural):
        if shop.understood(("jobs", name, "placements")):
            yield name, shop.jobs[name]


def _with_bill(shop: Shop) -> Iterator[tuple[str, Job]]:
    """Yield the jobs that have both lists, understood and not empty."""
    for name, job in _jobs(shop):
        has_both = job.bill and job.bill.by_reference and job.placements.by_reference
        if has_both and shop.understood(("jobs", name, "bill")):
            yield name, job


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
        nameless = [
            reference
            for reference, part in zip(placed.references, placed.parts, strict=True)
            if part is None
        ]
        nameless.sort(key=natural)
        ordinary = [ref for ref in nameless if _NO_PART.fullmatch(ref)]
        if ordinary:
            yield _ordinary(name, ordinary)
        nameless = [ref for ref in nameless if ref not in ordinary]
        if not nameless:
            continue
        bill = job.bill.by_reference if job.bill else {}
        billed = [f"{ref} {bill[ref].part}" for ref in nameless if ref in bill and bill[ref].part]
        yield Problem(
            path=("jobs", name, "placements", nameless[0], "part"),
            related=_also(name, "placements", nameless),
            message=f"{nameless[0]} of {name} has no part."
            if len(nameless) == 1
            else f"{len(nameless)} placements of {name} have no part.",
            observed=listed(nameless) + (f"; the bill has {listed(billed, 4)}" if billed else ""),
            consequence=f"{count(len(nameless), 'placement')} a board would be left out, or stop "
            "the run.",
            remedy=("Name the part of each in the placement list.",),
            suppresses=(("bill-contradicts-placements", ("jobs", name, "bill")),),
            level=None if job.run else Level.WARNING,
        )


_NO_PART = re.compile(r"(TP|H|MH|LOGO|G)\d*", re.IGNORECASE)
"""References of test points, holes and logos: common practice, no published source."""


def _ordinary(name: str, references: list[str]) -> Problem:
    path: Path = ("jobs", name, "placements")
    return Problem(
        path=(*path, references[0], "part"),
        related=_also(name, "placements", references),
        message=f"{count(len(references), 'row')} of {name} without a part may not be parts: "
        "test points, holes or logos.",
        observed=listed(references),
        consequence="If they are not parts, nothing is missing; until then a run may stop there.",
        remedy=("Write `fitted: no` for them, or name the part.",),
        suppresses=(("placement-not-in-bill", (*path, references[0])),),
        level=Level.WARNING,
    )


# rows lost, rotations changed


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
                ("bill-item-not-placed", ("jobs", name, "bill")),
                ("side-without-placements", ("jobs", name)),
            ),
            is_loss=True,
        )


@rule(
    Level.WARNING,
    compares=True,
    fails="""
    jobs.first-board.placements.R1.rotation: 90
    jobs.first-board.placements.R2.rotation: 90
    jobs.first-board.placements.R3.rotation: 180
    jobs.first-board.placements.C1.rotation: 180
    jobs.first-board.placements.C2.rotation: 90
    jobs.first-board.placements.D1.rotation: 90
    jobs.first-board.placements.D2.rotation: 270
    jobs.first-board.placements.U1.rotation: 180
    """,
    passes="jobs.first-board.placements.R1.rotation: 180",
)
def list_rotations_changed(look: Inspection) -> Iterator[Problem]:
    """All rotations of a list were negated or turned alike since the last known-good record.

    On the machine: polarised parts are placed turned by as much, if the list's declared `zero`
    and `bottom` did not change with it.

    To do: find out how the list was exported this time; declare it, or put the list back.

    Source: arithmetic.
    """
    for name, job in _jobs(look.shop):
        good = look.good.jobs.get(name) if look.good else None
        said = rotation_change(good, job) if good else ""
        if good is None or not said or _declares_anew(good, job):
            continue
        path: Path = ("jobs", name, "placements")
        first = next(iter(job.placements.by_reference))
        now, was = (each.placements.by_reference for each in (job, good))
        both = sorted(now.keys() & was.keys(), key=natural)
        shown = {ref: (now[ref].rotation, was[ref].rotation) for ref in both}
        changed = next((ref for ref, (a, b) in shown.items() if a != b), first)
        yield Problem(
            path=path,
            related=((*path, changed, "rotation"),),
            message=f"all rotations in the list of {name} are {said} since the record.",
            observed=f"{changed} {number(shown[changed][0])}",
            expected=f"{changed} {number(shown[changed][1])}, by the record",
            consequence="If the list was exported another way, polarised parts would be turned on "
            "their pads.",
            remedy=(
                "Find out how the list was exported. If nothing was meant to change, put it back:",
                command("restore", show(path)),
            ),
        )


def _declares_anew(good: Job, job: Job) -> bool:
    """Return whether the list's conventions changed too, so that the rotations may be right."""
    old, new = good.placements, job.placements
    return (old.zero, old.bottom) != (new.zero, new.bottom)


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
def side_without_placements(look: Inspection) -> Iterator[Problem]:
    """A job builds a side on which it has nothing to place.

    On the machine: the run ends before it places anything, or a board goes through unplaced.

    An empty list is an error in a job with a `run`, otherwise a warning.

    To do: correct the job's side, or the side of the placements. A list with both sides is
    usual: the other side has its own job.

    Source: common practice, no published source.
    """
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


@rule(
    Level.WARNING,
    fails="""
    jobs.first-board.placements.R1.side: bottom
    jobs.first-board.placements.R2.side: bottom
    jobs.second-side.describes: job
    jobs.second-side.edition: 1
    jobs.second-side.side: bottom
    jobs.second-side.board: {size_mm: [40, 30], thickness_mm: 1.6}
    jobs.second-side.board.fiducials.m1: {x: 4, y: 4, diameter_mm: 1.0}
    jobs.second-side.board.fiducials.m2: {x: 36, y: 22, diameter_mm: 1.0}
    jobs.second-side.seat: {x: 150, y: 110, z: -20.0, rotation: 0}
    jobs.second-side.placements: {zero: A, bottom: as-placed, bottom_positions: through-top}
    jobs.second-side.placements.R1: {part: 10k-0603, x: 10, y: 8, side: bottom}
    """,
    passes="""
    jobs.first-board.placements.R1.side: bottom
    jobs.first-board.placements.R2.side: bottom
    jobs.second-side.describes: job
    jobs.second-side.edition: 1
    jobs.second-side.side: bottom
    jobs.second-side.board: {size_mm: [40, 30], thickness_mm: 1.6}
    jobs.second-side.board.fiducials.m1: {x: 4, y: 4, diameter_mm: 1.0}
    jobs.second-side.board.fiducials.m2: {x: 36, y: 22, diameter_mm: 1.0}
    jobs.second-side.seat: {x: 150, y: 110, z: -20.0, rotation: 0}
    jobs.second-side.placements: {zero: A, bottom: as-placed, bottom_positions: through-top}
    jobs.second-side.placements.R1: {part: 10k-0603, x: 10, y: 8, side: bottom}
    jobs.second-side.placements.R2: {part: 10k-0603, x: 10, y: 11, side: bottom}
    """,
)
def placement_built_by_no_job(look: Inspection) -> Iterator[Problem]:
    """Two jobs build the two sides of one board, and a fitted reference is in neither.

    Jobs are taken for the two sides of one board if the second builds half or more of the
    references that the first leaves to the other side.

    On the machine: the part is missing after both runs.

    To do: add the reference to the list of the job that builds its side.

    Source: common practice, no published source.
    """
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
            )


# list and bill


@rule(
    Level.WARNING,
    Level.NOTE,
    fails="jobs.first-board.bill.R4: {part: 10k-0603}",
    passes="jobs.first-board.bill.R4: {part: 10k-0603, fitted: no}",
)
def bill_item_not_placed(look: Inspection) -> Iterator[Problem]:
    """The bill has a fitted reference that the placement list does not have.

    It is a note if the shop has none of these parts.

    On the machine: the part is not placed, and nothing reports it.

    To do: add the placement. If it is fitted by hand, write `fitted: no` in the bill.

    Source: common practice, no published source.
    """
    for name, job in _with_bill(look.shop):
        listing = job.placements.by_reference
        bill = job.bill.by_reference if job.bill else {}
        lost = [reference for reference in bill.keys() - listing.keys() if bill[reference].fitted]
        if not lost:
            continue
        lost.sort(key=natural)
        apart = len(lost) == len(bill) and not bill.keys() & listing.keys()
        shown = listed([f"{ref} ({bill[ref].part})" if bill[ref].part else ref for ref in lost])
        yield Problem(
            path=("jobs", name, "bill", lost[0]),
            related=(("jobs", name, "placements"), *_also(name, "bill", lost)),
            message=f"bill and placement list of {name} have no reference in common."
            if apart
            else f"{lost[0] if len(lost) == 1 else count(len(lost), 'reference')} of {name} "
            f"{'is' if len(lost) == 1 else 'are'} in the bill without a placement.",
            observed=shown,
            consequence=f"{count(len(lost), 'part')} a board would be missing after the run.",
            remedy=(
                "Check that they belong to the same board."
                if apart
                else "Add the placements, or write `fitted: no` in the bill.",
            ),
            suppresses=(("placement-not-in-bill", ("jobs", name, "placements")),) if apart else (),
            level=None if any(bill[ref].part in look.shop.parts for ref in lost) else Level.NOTE,
        )


@rule(
    Level.WARNING,
    fails="jobs.first-board.placements.R4: {part: 10k-0603, x: 34, y: 8, rotation: 0, side: top}",
    passes="jobs.first-board.placements.R4: {part: 10k-0603, x: 34, y: 8, rotation: 0, fitted: no}",
)
def placement_not_in_bill(look: Inspection) -> Iterator[Problem]:
    """A job places a reference that its bill does not have.

    On the machine: a part is placed that may belong to another revision of the board.

    To do: add it to the bill, or write `fitted: no` at the placement.

    Source: common practice, no published source.
    """
    for name, job in _with_bill(look.shop):
        bill = job.bill.by_reference if job.bill else {}
        extra = sorted(set(look.facts.usage.placed[name].references) - bill.keys(), key=natural)
        if not extra:
            continue
        listing = job.placements.by_reference
        shown = [f"{ref} ({listing[ref].part})" if listing[ref].part else ref for ref in extra]
        yield Problem(
            path=("jobs", name, "placements", extra[0]),
            related=(("jobs", name, "bill"), *_also(name, "placements", extra)),
            message=f"{extra[0] if len(extra) == 1 else count(len(extra), 'placement')} of {name} "
            f"{'is' if len(extra) == 1 else 'are'} not in its bill.",
            observed=listed(shown),
            consequence=f"{count(len(extra), 'part')} a board would be placed that the bill does "
            "not have.",
            remedy=("Add to the bill, or write `fitted: no` at the placement.",),
        )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.bill.C1.part: 10k-0603",
    passes="jobs.first-board.bill.C1.part: ~",
)
def bill_contradicts_placements(look: Inspection) -> Iterator[Problem]:
    """Bill and placement list name different parts for one reference, or one says not fitted.

    It is a warning if the reference is fitted in the bill alone, since it may be fitted by hand,
    or if the bill's name is not a part of the shop.

    On the machine: the part of the placement list is placed, whatever the bill says.

    To do: find out which of the two is the newer, and correct the other.

    Source: two documents of one board cannot both be right.
    """
    for name, job in _with_bill(look.shop):
        bill = job.bill.by_reference if job.bill else {}
        placed = look.facts.usage.placed[name]
        found: dict[str, str] = {}
        is_sure = False
        for reference, part in zip(placed.references, placed.parts, strict=True):
            item = bill.get(reference)
            if item is None or (item.part == part and item.fitted):
                continue
            if not item.fitted:
                found[reference] = f"{reference} fitted in the list only"
                is_sure = True
            elif part in look.shop.parts and item.part is not None:
                found[reference] = f"{reference} {part}, in the bill {item.part}"
                is_sure = is_sure or item.part in look.shop.parts
        by_hand = [ref for ref in placed.left_out if ref in bill and bill[ref].fitted]
        found |= {reference: f"{reference} fitted in the bill only" for reference in by_hand}
        if found:
            yield _contradiction(name, found, None if is_sure else Level.WARNING)


def _contradiction(name: str, found: dict[str, str], level: Level | None) -> Problem:
    references = sorted(found, key=natural)
    return Problem(
        path=("jobs", name, "bill", references[0]),
        related=(
            ("jobs", name, "placements", references[0]),
            *_also(name, "bill", references),
        ),
        message=f"bill and placement list of {name} contradict each other at "
        + (references[0] if len(references) == 1 else f"{len(references)} references")
        + ".",
        observed=listed([found[reference] for reference in references], 4),
        consequence="The machine would follow the placement list, whatever the bill says.",
        remedy=("Find out which of the two is the newer, and correct the other.",),
        level=level,
    )
