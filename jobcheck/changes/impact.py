"""The impact of a change, traced through the references of a shop."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from typing import NamedTuple

from jobcheck.changes.apply import edits_of
from jobcheck.changes.change import Change, Kind
from jobcheck.changes.consequences import consequences
from jobcheck.changes.moves import is_entry
from jobcheck.changes.protections import no_longer_checked
from jobcheck.changes.uses import use
from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import covers
from jobcheck.schema.fields import FieldClass
from jobcheck.schema.job import Bill, Placements
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.values import leaves


class Endangered(NamedTuple):
    """Placements of one job: their references, of how many a board has, and in the planned run.

    `in_run` counts over the cells that are built and the panels of the run; it and `panels` are
    None where no run is planned.
    """

    job: str
    references: tuple[str, ...]
    of: int
    in_run: int | None
    panels: int | None


class Impact(NamedTuple):
    """All that depends on a change: recognitions tuned under it, parts, placements.

    `of_parts` is how many parts the shop has; `so` says what would happen on the machine, where
    that is known; `no_longer_checked` names the checks that the change stops.
    """

    recognitions: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    of_parts: int = 0
    jobs: tuple[Endangered, ...] = ()
    so: tuple[str, ...] = ()
    no_longer_checked: tuple[str, ...] = ()


class _Reach(NamedTuple):
    """The reach of a path: recognitions, parts with all their placements, further placements."""

    recognitions: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    placements: tuple[tuple[str, str], ...] = ()
    jobs: tuple[str, ...] = ()


_NOTHING = _Reach()


def impact(change: Change, old: Facts, new: Facts) -> Impact:
    """Return the impact of one change on the jobs as they are now."""
    return impact_of([change], old, new)


def impact_of(changes: Iterable[Change], old: Facts, new: Facts) -> Impact:
    """Return the impact of several changes together, each placement counted once."""
    changes = tuple(changes)
    reaches: list[_Reach] = []
    so: dict[str, None] = {}
    for change in changes:
        if change.field_class in (FieldClass.COUNT, FieldClass.NOTE):
            continue
        reached = [] if _is_new(change) else list(_reaches(change, old, new))
        said = () if _is_new(change) else tuple(consequences(change, old, new))
        if not said and not any(reach != _NOTHING for reach in reached):
            said = tuple(filter(None, [use(change)]))
        reaches += reached
        so |= dict.fromkeys(said)
    return Impact(
        recognitions=_names(reach.recognitions for reach in reaches),
        parts=_names(_parts_of(reach, new) for reach in reaches),
        of_parts=len(new.shop.parts),
        jobs=tuple(_endangered(reaches, new)),
        so=tuple(so),
        no_longer_checked=no_longer_checked(changes),
    )


def _is_new(change: Change) -> bool:
    """Tell whether an entry came that nothing could depend on yet."""
    return change.kind is Kind.ADDED and is_entry(change.path, change.new)


def _names(several: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(sorted(set(chain.from_iterable(several)), key=natural))


def _parts_of(reach: _Reach, facts: Facts) -> Iterator[str]:
    yield from reach.parts
    for job in reach.jobs:
        yield from facts.usage.placements_by_part.get(job, {})
    for job, reference in reach.placements:
        described = facts.shop.jobs.get(job)
        placement = described.placements.by_reference.get(reference) if described else None
        if placement and placement.part:
            yield placement.part


def _endangered(reaches: list[_Reach], facts: Facts) -> Iterator[Endangered]:
    found: dict[str, set[str]] = {job: set() for job in sorted(facts.shop.jobs, key=natural)}
    parts = _names(reach.parts for reach in reaches)
    for job, references in facts.usage.placements_of_parts(parts).items():
        found[job].update(references)
    named: dict[str, set[str]] = defaultdict(set)
    for job, reference in chain.from_iterable(reach.placements for reach in reaches):
        named[job].add(reference)
    whole = set(chain.from_iterable(reach.jobs for reach in reaches))
    for job in found.keys() & (whole | named.keys()):
        placed = set(chain.from_iterable(facts.usage.placements_by_part[job].values()))
        found[job] |= placed if job in whole else placed & named[job]
    for job, names in found.items():
        if names:
            yield _counted(job, names, facts)


def _counted(job: str, references: set[str], facts: Facts) -> Endangered:
    described = facts.shop.jobs[job]
    panel, run = described.panel, described.run
    cells = panel.columns * panel.rows - len(set(panel.skip)) if panel else 1
    return Endangered(
        job=job,
        references=tuple(sorted(references, key=natural)),
        of=facts.usage.placement_count(job),
        in_run=len(references) * cells * run.panels if run else None,
        panels=run.panels if run else None,
    )


def _reaches(change: Change, old: Facts, new: Facts) -> Iterator[_Reach]:
    """Yield the reach of a change; a rename reaches all that still use the old name."""
    if change.kind is Kind.MOVED and change.other is not None and len(change.path) == 2:
        if new.links.of(change.path[0], change.path[1]):
            yield _reach(change.path, (new,))
        return
    for edit in edits_of(change):
        is_whole = len(edit.path) <= 2
        below = () if is_whole else leaves(edit.path, edit.old, edit.new)
        for path in {edit.path} if is_whole else {leaf for leaf, _, _ in below}:
            yield _reach(path, (new, old))
            if path[0] == "feeders" and path[2:] == ("part",):
                yield _reach(path, (old,))


def _reach(path: Path, shops: tuple[Facts, ...]) -> _Reach:
    if path[0] in _EVERYTHING:
        return _Reach(jobs=tuple(shops[0].shop.jobs))
    trace = _TRACES.get(path[0])
    found = (trace(path, facts) for facts in shops if trace and len(path) > 1)
    return next((reach for reach in found if reach != _NOTHING), _NOTHING)


_EVERYTHING = ("spindles", "home_mark", "approach", "reversal", "squareness_deg", "traverse_z")
"""Parts of the machine that every placement depends on."""


_MEASURES = (("position",), ("mm_per_pixel",))
"""Fields of a camera that every part it measures depends on, but no tuning."""


def _camera(path: Path, facts: Facts) -> _Reach:
    """A camera's recognitions; one that looks down finds the marks of every board."""
    is_measure = path[2:3] in _MEASURES
    if not covers(path) and not is_measure:
        return _NOTHING
    camera = facts.shop.cameras.get(path[1])
    if camera is not None and camera.aim == "down":
        return _Reach(jobs=tuple(facts.shop.jobs))
    recognitions = facts.usage.recognitions_of_camera(path[1])
    if is_measure:  # the picture stays, and with it the tuning
        return _Reach(parts=_names(map(facts.usage.parts_of_recognition, recognitions)))
    if path[2:3] == ("light",):
        own = "light_channel" if path[3:4] == ("channel",) else "light_percent"
        recognitions = tuple(
            name
            for name in recognitions
            if name in facts.shop.recognitions
            and getattr(facts.shop.recognitions[name], own) is None
        )
    parts = _names(map(facts.usage.parts_of_recognition, recognitions))
    return _Reach(recognitions, parts)


def _recognition(path: Path, facts: Facts) -> _Reach:
    if path[2:3] == ("tuned_under",):
        return _NOTHING
    return _Reach(parts=facts.usage.parts_of_recognition(path[1]))


def _outline(path: Path, facts: Facts) -> _Reach:
    return _Reach(parts=facts.usage.parts_of_outline(path[1]))


def _part(path: Path, facts: Facts) -> _Reach:
    return _Reach(parts=(path[1],))


def _nozzle(path: Path, facts: Facts) -> _Reach:
    return _Reach(parts=facts.usage.parts_of_nozzle(path[1]))


def _rack_place(path: Path, facts: Facts) -> _Reach:
    place = facts.shop.machine.rack.get(path[1]) if facts.shop.machine else None
    return _nozzle(("nozzles", place.nozzle), facts) if place and place.nozzle else _NOTHING


def _feeder(path: Path, facts: Facts) -> _Reach:
    feeder = facts.shop.feeders.get(path[1])
    return _Reach(parts=(feeder.part,)) if feeder and feeder.part else _NOTHING


def _feeder_row(path: Path, facts: Facts) -> _Reach:
    standing = (feeder for feeder in facts.shop.feeders.values() if feeder.row == path[1])
    return _Reach(parts=_names((feeder.part,) for feeder in standing if feeder.part))


_LISTS = {"placements": Placements.model_fields, "bill": Bill.model_fields}
"""The lists of a job, and their keys that are not references."""


def _job(path: Path, facts: Facts) -> _Reach:
    job = path[1]
    if job not in facts.shop.jobs or path[2:3] in (("run",), ("note",)):
        return _NOTHING
    options = _LISTS.get(path[2]) if len(path) > 3 else None
    is_row = options is not None and path[3] not in options
    return _Reach(placements=((job, path[3]),)) if is_row else _Reach(jobs=(job,))


_TRACES: dict[str, Callable[[Path, Facts], _Reach]] = {
    "cameras": _camera,
    "recognitions": _recognition,
    "outlines": _outline,
    "parts": _part,
    "nozzles": _nozzle,
    "rack": _rack_place,
    "feeders": _feeder,
    "feeder_rows": _feeder_row,
    "jobs": _job,
}


_MOST_NAMED = 6


def endangered(reached: Impact) -> str:
    """Write the reach of an impact: `23 of 25 parts; soil-logger 80 of 84 placements a board`.

    A few placements are named; empty where nothing is reached.
    """
    if not reached.jobs:
        return f"{_some(reached.parts, 'part')}, placed by no job" if reached.parts else ""
    (first, *more) = reached.jobs
    if len(first.references) <= _MOST_NAMED and not more:
        return ", ".join(first.references)
    if len(reached.parts) == 1 and not more:
        return f"{reached.parts[0]}, {len(first.references)} placements a board"
    parts = f"{len(reached.parts)} of {reached.of_parts} parts"
    return "; ".join([parts, *map(_board, reached.jobs)])


def _some(names: tuple[str, ...], one: str) -> str:
    return ", ".join(names) if len(names) <= _MOST_NAMED else f"{len(names)} {one}s"


def _board(job: Endangered) -> str:
    board = f"{job.job} {len(job.references):,} of {job.of:,} placements a board"
    if job.in_run is None:
        return board
    panels = f"{job.panels} panels" if job.panels != 1 else "1 panel"
    return f"{board}, {job.in_run:,} in the planned run of {panels}"
