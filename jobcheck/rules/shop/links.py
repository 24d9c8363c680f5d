"""Rules about names: each points at an entry, and each entry is named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.links import Target
from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Remedy, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Machine
from jobcheck.schema.shop_file import COLLECTIONS
from jobcheck.shop.paths import Path, natural, parse, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import same
from jobcheck.wording import count, listed, near

_MOST_ALSO = 3
"""Further places that a finding shows; the count covers the rest."""

ONE_OF: dict[str, str] = {
    "cameras": "camera",
    "feeder_rows": "feeder row",
    "feeders": "feeder",
    "jobs": "job",
    "nozzles": "nozzle",
    "outlines": "outline",
    "parts": "part",
    "rack": "rack place",
    "recognitions": "recognition",
    "spindles": "spindle",
}
"""The word for one entry of a collection."""

_WITHOUT: dict[str, str] = {
    "cameras": "No picture would be taken for it.",
    "feeder_rows": "The place of the slot and the direction of its tape are unknown.",
    "nozzles": "The controller may change to a missing nozzle, or keep the last one.",
    "outlines": "Body, height and nozzle are unknown: it cannot be picked, measured or placed.",
    "parts": "Its outline is unknown: it cannot be picked, measured or placed.",
    "recognitions": "Its look in the picture is unknown: it may be placed unmeasured, or be "
    "rejected as not found.",
}
"""Collection -> the consequence on the machine if a named entry is missing."""


@rule(
    Level.ERROR,
    Level.WARNING,
    Level.NOTE,
    fails="parts.10k-0603.outline: chip-063",
    passes="outlines.soic-8.nozzles: [bore-0-4, bore-1-0]",
)
def name_unknown(look: Inspection) -> Iterator[Problem]:
    """A name points at an outline, part, nozzle, camera or row that is not described.

    A note where no job needs it today. A warning where an event touched what is neither an axis nor
    described. A part that only a bill names is left to `bill-contradicts-placements`.

    On the machine: the part, feeder or spindle that names it cannot be used, or is used with the
    controller's old values. What an event really touched keeps its old calibration.

    To do: correct the name, describe the entry, or restore it if it was lost. Events name an axis
    (x, y, z, rotation) or a path of the description, such as cameras.up.

    Source: the description's own references; nothing to measure.
    """
    missing: dict[str, dict[str, list[Path]]] = defaultdict(dict)
    for target, users in look.facts.links.users.items():
        if _is_missing(look.shop, target) and (named := _weighty(look.shop, users)):
            missing[target[0]][target[1]] = _in_order(named)
    for collection, users_of in missing.items():
        if len(users_of) > 1 and not _entries(look.shop, collection):
            yield _none_described(look, collection, users_of)
            continue
        for name, named in users_of.items():
            yield _unknown(look, (collection, name), named)
    yield from _touches_nothing(look)


def _is_missing(shop: Shop, target: Target) -> bool:
    """Tell whether a name has no entry, though all that could hold it was understood."""
    return shop.plain_at(target) is None and shop.understood(target)


def _weighty(shop: Shop, users: tuple[Path, ...]) -> list[Path]:
    """Leave out bills, and jobs that are a list alone: `job-incomplete` has their parts."""
    drafts = {("jobs", name) for name in shop.drafts}
    return [path for path in users if "bill" not in path[2:3] and path[:2] not in drafts]


def _unknown(look: Inspection, target: Target, users: list[Path]) -> Problem:
    collection, name = target
    one = ONE_OF[collection]
    known = _entries(look.shop, collection)
    was = look.good is not None and look.good.plain_at(target) is not None
    is_needed = any(not _is_placement(path) for path in users) or any(
        name in by_part for by_part in look.facts.usage.placements_by_part.values()
    )
    verb = "names" if len(users) == 1 else "name"
    return Problem(
        path=users[0],
        related=tuple(users[1 : 1 + _MOST_ALSO]),
        message=f"{_namers(users)} {verb} {one} {name}, which does not exist.",
        observed=f"{name}; described: {listed(known)}"
        if known
        else f"{name}; no {one} is described",
        expected=f"{show(target)} is described" if was else "",
        consequence=_WITHOUT[collection]
        if is_needed
        else "No job needs it today: it is not fitted, or on the other side.",
        remedy=_remedy(target, _meant(look, users[0], target), was),
        suppresses=(
            *(("entries-unused", (unnamed,)) for unnamed in _NAMED),
            *(("name-unknown", path) for path in touches(look.shop, target)),
        ),
        level=None if is_needed else Level.NOTE,
    )


def _none_described(look: Inspection, collection: str, users_of: dict[str, list[Path]]) -> Problem:
    """Report a whole collection that is not there: one cause, however many names point at it."""
    names = sorted(users_of, key=natural)
    kind = next((kind for kind, held in COLLECTIONS.items() if collection in held), None)
    files = ("shop", kind) if kind else (collection,)
    one = ONE_OF[collection]
    return Problem(
        path=files,
        related=tuple(users_of[name][0] for name in names[:_MOST_ALSO]),
        message=f"{len(names)} {one}s are named, but no {one} is described.",
        observed=listed(names),
        expected=_recorded_files(look.good, files, one) if look.good else "",
        consequence=_WITHOUT[collection],
        remedy=(
            f"Name the file that describes them under {kind} in shop.yaml."
            if kind
            else f"Describe them under {collection}.",
        ),
        suppresses=(
            *(("entries-unused", (unnamed,)) for unnamed in _NAMED),
            *(("recorded-value-missing", (held,)) for held in COLLECTIONS.get(kind or "", ())),
        ),
    )


def _recorded_files(good: Shop, files: Path, one: str) -> str:
    """Say which files the record names for a kind, where it names any."""
    names = good.plain_at(files)
    return f"{listed(names)} for {one}s" if isinstance(names, list) and names else ""


def touches(shop: Shop, path: Path) -> list[Path]:
    """Return the places where events name an entry, or a value of it."""
    entry = show(path)
    return [
        at for at, touched in _touched(shop) if touched == entry or touched.startswith(f"{entry}.")
    ]


def _touched(shop: Shop) -> Iterator[tuple[Path, str]]:
    """Yield each thing that events touched, and where it is written."""
    for key, event in shop.machine.events.items() if shop.machine else ():
        for index, touched in enumerate(event.touched):
            yield ("events", key, "touched", str(index)), touched


def _meant(look: Inspection, at: Path, target: Target) -> str | None:
    """Return the name that was probably meant: the known-good one, else the nearest.

    An entry with the values that the record has under the old name is that one. If the record has
    the missing entry, only an entry that it has not can be the new name.
    """
    known = _entries(look.shop, target[0])
    if look.good is None:
        return near(target[1], known)
    was = look.good.plain_at(at)
    if isinstance(was, str) and was in known:
        return was
    recorded = look.good.plain_at(target)
    if recorded is not None:
        known = [key for key in known if look.good.plain_at((target[0], key)) is None]
        for key in known:
            if same(look.shop.plain_at((target[0], key)), recorded):
                return key
    return near(target[1], known)


def _remedy(target: Target, meant: str | None, was_described: bool) -> Remedy:
    guess = f"Did you mean {meant}? Then correct the name." if meant else ""
    if was_described:
        steps = ("If it was lost, put it back:", command("restore", show(target)))
        return (guess, *steps) if guess else steps
    describe = f"escribe {target[1]} under {target[0]}."
    return (f"{guess} Else d{describe}" if meant else f"Correct the name, or d{describe}",)


def _entries(shop: Shop, collection: str) -> list[str]:
    found = shop.plain_at((collection,))
    return sorted(found, key=natural) if isinstance(found, dict) else []


def _in_order(paths: list[Path]) -> list[Path]:
    return sorted(paths, key=lambda path: [natural(key) for key in path])


def _is_placement(path: Path) -> bool:
    return path[0] == "jobs"


def _namers(users: list[Path]) -> str:
    """Return the entries that name something: `feeder f03 and 12 placements of soil-logger`."""
    groups: dict[tuple[str, str, str], dict[str, None]] = defaultdict(dict)
    for path in users:
        if _is_placement(path):
            groups["placement", "placements", f" of {path[1]}"][path[3]] = None
        elif path[0] in ONE_OF:
            groups[ONE_OF[path[0]], ONE_OF[path[0]] + "s", ""][path[1]] = None
        else:
            groups[path[0], path[0], ""][""] = None
    said = [
        (f"{one} {next(iter(names))}".rstrip() if len(names) == 1 else count(len(names), one, many))
        + of
        for (one, many, of), names in groups.items()
    ]
    return joined(said)


_NAMED: tuple[str, ...] = ("outlines", "recognitions", "parts", "nozzles")
"""Collections whose entries are described to be named by others."""


@rule(
    Level.NOTE,
    fails="nozzles.bore-2-2: {tip_outer_mm: 3.5, bore_mm: 2.2}",
    passes="nozzles.bore-2-2: {tip_outer_mm: 3.5, bore_mm: 2.2}\n"
    "rack.p3: {x: 340, y: 30, z: -25, nozzle: bore-2-2}",
)
def entries_unused(look: Inspection) -> Iterator[Problem]:
    """An outline, recognition, part or nozzle is not named by anything.

    There is one note for each collection, at its first such entry.

    On the machine: nothing, unless a name was meant for it and points to another entry.

    To do: remove it if it is not needed, or name it where it was meant.

    Source: the description's own references; nothing to measure.
    """
    for collection in _NAMED if not look.shop.not_understood else ():
        entries = _entries(look.shop, collection)
        unused = [key for key in entries if not look.facts.links.of(collection, key)]
        if unused:
            yield _unused(collection, unused)


def _unused(collection: str, unused: list[str]) -> Problem:
    one, several = ONE_OF[collection], len(unused) > 1
    return Problem(
        path=(collection, unused[0]),
        related=tuple((collection, key) for key in unused[1 : 1 + _MOST_ALSO]),
        message=f"{count(len(unused), one)} are not named by anything: {listed(unused)}."
        if several
        else f"{one} {unused[0]} is not named by anything.",
        consequence="Nothing, unless a name was meant for it and points to another entry.",
        remedy=(
            f"Remove {'them' if several else 'it'}, or keep {'them' if several else 'it'} as "
            f"{'spares' if several else 'a spare'}.",
        ),
    )


_AXES = ("x", "y", "z", "rotation")


def _touches_nothing(look: Inspection) -> Iterator[Problem]:
    """Yield the things that events touched and that are neither axes nor described."""
    touching: dict[str, list[Path]] = defaultdict(list)
    for path, touched in _touched(look.shop):
        if not _names_something(look.shop, touched):
            touching[touched].append(path)
    for touched, paths in touching.items():
        paths = _in_order(paths)
        meant = near(touched, _touchable(look.shop))
        event = "event {}" if len(paths) == 1 else f"{len(paths)} events, {{}} first,"
        yield Problem(
            path=paths[0],
            related=tuple(paths[1 : 1 + _MOST_ALSO]),
            message=f"{event.format(paths[0][1])} touched {touched}, which does not exist.",
            observed=touched,
            consequence="If this made a calibration old, it is not called old.",
            remedy=(
                f"Did you mean {meant}? Then correct it."
                if meant
                else "Write x, y, z, rotation, or a path such as cameras.up.",
            ),
            level=Level.WARNING,
        )


def _names_something(shop: Shop, touched: str) -> bool:
    """Tell whether a text is an axis, a described path, or a block of a machine."""
    if touched in _AXES or touched in Machine.model_fields:
        return True
    try:
        path = parse(touched)
    except ValueError:
        return False
    return shop.plain_at(path) is not None or not shop.understood(path)


def _touchable(shop: Shop) -> list[str]:
    entries = ("cameras", "spindles", "nozzles", "rack", "feeder_rows", "feeders")
    return [
        *_AXES,
        *Machine.model_fields,
        *(show((name, key)) for name in entries for key in _entries(shop, name)),
    ]
