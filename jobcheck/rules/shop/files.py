"""Rules about the files that shop.yaml names."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.links import Target
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.shop.links import ONE_OF
from jobcheck.schema.shop_file import BRINGS
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed


class _Lost(NamedTuple):
    """Files that shop.yaml no longer names, and the entries of the record that went with them."""

    kind: str
    files: list[str]
    entries: list[Target]
    are_needed: bool


def _named(shop: Shop, kind: str) -> list[str]:
    found: list[str] = getattr(shop.root, kind)
    return found


def _keys(shop: Shop, collection: str) -> list[str]:
    found = shop.plain_at((collection,))
    return sorted(found, key=natural) if isinstance(found, dict) else []


@rule(
    Level.ERROR,
    Level.WARNING,
    Level.NOTE,
    fails="shop.feeders: []",
    passes="jobs.first-board.run.panels: 1",
    compares=True,
)
def file_no_longer_named(look: Inspection) -> Iterator[Problem]:
    """shop.yaml no longer names a file of the record, or a pattern in it matches no file.

    An error where a job still needs one of the entries, or no job is left; else a warning. A
    pattern that brought nothing in the record is a note.

    On the machine: the parts, feeders or jobs in that file are unknown and not checked.

    To do: name the file again, put it back, or correct the pattern; if it went on purpose,
    `jobcheck keep` records it.

    Source: the last known-good record; the description's own references; nothing to measure.
    """
    for kind, collections in BRINGS.items():
        if not all(look.shop.understood((name,)) for name in collections):
            continue
        lost = _lost(look, look.good, kind) if look.good else None
        if look.good and lost and lost.entries:
            yield _not_named(look, look.good, lost)
            continue
        named = list(enumerate(_named(look.shop, kind)))
        patterns = [(index, pattern) for index, pattern in named if "*" in pattern]
        if patterns and not any(_keys(look.shop, name) for name in collections):
            yield _empty(look.good, kind, *patterns[0])


def _lost(look: Inspection, good: Shop, kind: str) -> _Lost:
    now = _named(look.shop, kind)
    files = [name for name in _named(good, kind) if name not in now]
    entries = [
        (collection, key)
        for collection in (BRINGS[kind] if files else ())
        for key in _keys(good, collection)
        if look.shop.plain_at((collection, key)) is None
    ]
    return _Lost(kind, files, entries, any(_is_needed(look, good, entry) for entry in entries))


def _is_needed(look: Inspection, good: Shop, entry: Target) -> bool:
    """Tell whether something still names an entry, or a job places what only it held."""
    collection, key = entry
    if collection == "jobs":
        return not look.shop.jobs
    if collection == "feeders":
        part = good.feeders[key].part if key in good.feeders else None
        usage = look.facts.usage
        return bool(part) and part in usage.placed_parts() and not usage.feeders_of_part(str(part))
    return bool(look.facts.links.of(collection, key))


def _not_named(look: Inspection, good: Shop, lost: _Lost) -> Problem:
    verb = "is" if len(lost.entries) == 1 else "are"
    return Problem(
        path=("shop", lost.kind),
        message=f"shop.yaml no longer names {listed(lost.files)}: {_amounts(lost)} of the record "
        f"{verb} missing.",
        observed=f"{listed(_named(look.shop, lost.kind)) or 'no file'} named for {lost.kind}",
        expected=f"{listed(_named(good, lost.kind))}, as recorded",
        consequence=_without(lost),
        remedy=(
            "Name the files again as recorded:",
            command("restore", f"shop.{lost.kind}"),
            "If they went on purpose, record it:",
            command("keep", "--label", "TEXT", "--on-purpose", f"shop.{lost.kind}"),
        ),
        suppresses=tuple(_following(look, lost)),
        level=None if lost.are_needed else Level.WARNING,
        is_loss=True,
    )


def _without(lost: _Lost) -> str:
    if not lost.are_needed:
        return "No job needs them today."
    if lost.kind == "jobs":
        return "No job is checked, and none can be placed from this description."
    return "A job needs some of them; its placements cannot be checked."


def _amounts(lost: _Lost) -> str:
    held = {collection: 0 for collection, _ in lost.entries}
    for collection, _ in lost.entries:
        held[collection] += 1
    return listed([count(amount, ONE_OF[collection]) for collection, amount in held.items()])


def _following(look: Inspection, lost: _Lost) -> Iterator[tuple[str, Path]]:
    """Yield the findings that follow from entries that are missing."""
    yield "entries-unused", ()
    for collection in BRINGS[lost.kind]:
        yield "recorded-value-missing", (collection,)
    if lost.kind == "feeders":
        yield "part-without-feeder", ("jobs",)
    for entry in lost.entries:
        for user in look.facts.links.of(*entry):
            yield "name-unknown", user
    if not look.shop.plain_at((lost.kind,)):
        yield "name-unknown", ("shop", lost.kind)


def _empty(good: Shop | None, kind: str, index: int, pattern: str) -> Problem:
    path: Path = ("shop", kind, str(index))
    recorded = _keys(good, "jobs") if good and kind == "jobs" else []
    if recorded:
        return Problem(
            path=path,
            message=f"{pattern} matches no file, but the record has "
            f"{'job' if len(recorded) == 1 else 'jobs'} {listed(recorded, 3)}.",
            observed="no job",
            expected=f"{count(len(recorded), 'job')} in the record",
            consequence="No job is checked, and none can be placed from this description.",
            remedy=(
                "Put the jobs back as recorded:",
                command("restore", "jobs"),
                "If they went on purpose, record it:",
                command("keep", "--label", "TEXT", "--on-purpose", "shop.jobs"),
            ),
            suppresses=(("recorded-value-missing", ("jobs",)),),
            level=Level.ERROR,
            is_loss=True,
        )
    return Problem(
        path=path,
        message=f"{pattern} matches no file.",
        observed=f"no {kind}",
        consequence=f"The shop has no {kind}, so nothing about them is checked.",
        remedy=(f"Correct the pattern, or add a file that describes {kind}.",),
        level=Level.NOTE,
    )
