"""Rules about a job's lists: what stands twice, on which side, and what the bill says of it."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed


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
    jobs.first-board.placements."R1 ": {part: 10k-0603, x: 34, y: 8, side: top}
    """,
    passes="""
    jobs.first-board.placements."R4 ": {part: 10k-0603, x: 34, y: 8, side: top}
    jobs.first-board.bill.R4: {part: 10k-0603}
    """,
)
def reference_repeated(look: Inspection) -> Iterator[Problem]:
    """A list has one reference more than once; blanks around it do not count.

    On the machine: only the first row is placed. Where another row is the right one the part lies
    at a wrong place, or is another part.

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
            message=f"{first} stands {often[first]} times in the {what} of {job}."
            if len(references) == 1
            else f"{len(references)} references stand more than once in the {what} of {job}.",
            observed=listed([f"{reference} {often[reference]} times" for reference in references]),
            consequence="Only the first row of each counts; the part may be another one, or the count wrong."
            if is_bill
            else "Only the first row of each is placed; the part may lie at a wrong place.",
            remedy=("Keep one row for each reference.",),
            level=Level.WARNING if is_bill else None,
        )


@rule(
    Level.ERROR,
    fails="jobs.first-board.placements.U1.part: ~",
    passes="""
    jobs.first-board.placements.U1: {x: 24, y: 20, side: top, fitted: no}
    jobs.first-board.bill.U1.fitted: no
    """,
)
def placement_without_part(look: Inspection) -> Iterator[Problem]:
    """A placement does not say which part is placed.

    On the machine: no feeder can be chosen; the run stops there or leaves it out.

    To do: name the part in the placement list; the bill does not stand in for it.

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
        bill = job.bill.by_reference if job.bill else {}
        billed = [f"{ref} {bill[ref].part}" for ref in nameless if ref in bill and bill[ref].part]
        yield Problem(
            path=("jobs", name, "placements", nameless[0], "part"),
            related=_also(name, "placements", nameless),
            message=f"{nameless[0]} of {name} names no part."
            if len(nameless) == 1
            else f"{len(nameless)} placements of {name} name no part.",
            observed=listed(nameless) + (f"; the bill has {listed(billed, 4)}" if billed else ""),
            consequence=f"{count(len(nameless), 'placement')} a board would be left out, or stop the run.",
            remedy=("Name the part of each in the placement list.",),
            suppresses=(("bill-contradicts-placements", ("jobs", name, "bill")),),
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
def side_without_placements(look: Inspection) -> Iterator[Problem]:
    """A job builds a side on which it has nothing to place.

    On the machine: the run ends before it places anything, or a board goes through unplaced.

    To do: correct the job's side, or the side of the placements. A list with both sides is
    usual: what lies on the other side is left for its own job.

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
            says = f"{name} builds the {job.side}, but all its placements lie on the {other}."
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
            level=None if listing else Level.WARNING,
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

    On the machine: the part is not placed, and nobody is told.

    To do: add the placement; where it is fitted by hand, write `fitted: no` in the bill. Where
    none of the parts is known to the shop this is a note.

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
            f"{'stands' if len(lost) == 1 else 'stand'} in the bill without a placement.",
            observed=shown,
            consequence=f"{count(len(lost), 'part')} a board would be missing after the run.",
            remedy=(
                "Look whether they belong to the same board."
                if apart
                else "Add the placements, or write `fitted: no` in the bill.",
            ),
            suppresses=(("placement-not-in-bill", ("jobs", name, "placements")),) if apart else (),
            level=None if any(bill[ref].part in look.shop.parts for ref in lost) else Level.NOTE,
        )


@rule(
    Level.WARNING,
    fails="jobs.first-board.placements.R4: {part: 10k-0603, x: 34, y: 8, side: top}",
    passes="jobs.first-board.placements.R4: {part: 10k-0603, x: 34, y: 8, side: top, fitted: no}",
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
            f"{'does' if len(extra) == 1 else 'do'} not stand in its bill.",
            observed=listed(shown),
            consequence=f"{count(len(extra), 'part')} a board would be placed that the bill does not ask "
            "for.",
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

    On the machine: the part of the placement list is placed, whatever the bill says.

    To do: look which of the two is the newer, and correct the other. What is fitted in the bill
    alone may be fitted by hand, and a bill may have names of its own: those are warnings.

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
        remedy=("Look which of the two is the newer, and correct the other.",),
        level=level,
    )
