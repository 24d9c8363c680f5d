"""Rules about stale values: measured before an event, or copied and then changed once."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple, TypeVar

from jobcheck.facts.reach import joined, needed_by
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.cameras.cameras import is_calibration_touched
from jobcheck.schema.machine import Event, Machine
from jobcheck.shop.paths import Path, is_within, natural, parse, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, number

Entry = TypeVar("Entry")

_MOST_SHOWN = 5
"""Values that a finding shows; the count covers the rest."""

_PLANE = ("x", "y")
_SPACE = ("x", "y", "z")


class _Dated(NamedTuple):
    """A value that was measured, its day if that is written, and its dependencies.

    `axes` are those that it was measured with, `rests_on` other paths that it depends on.
    """

    path: Path
    day: date | None
    axes: tuple[str, ...] = ()
    rests_on: tuple[Path, ...] = ()

    def is_touched(self, touched: str) -> bool:
        """Tell whether an event touched something that this value depends on."""
        if touched in ("x", "y", "z", "rotation"):
            return touched in self.axes
        try:
            path = parse(touched)
        except ValueError:
            return False
        return is_within(path, self.path) or any(
            is_within(base, path) for base in (self.path, *self.rests_on)
        )


def _dated(shop: Shop) -> Iterator[_Dated]:
    """Yield every value of a shop that has a day of measuring, written or not."""
    if shop.machine:
        yield from _of_machine(shop.machine)
    for name in sorted(shop.feeders, key=natural):
        feeder = shop.feeders[name]
        pick = feeder.pick
        if pick:
            rests_on: list[Path] = [("feeders", name)]
            rests_on += [("feeder_rows", feeder.row)] if feeder.row else []
            rests_on += [("nozzles", pick.measured_with)] if pick.measured_with else []
            yield _Dated(("feeders", name, "pick"), pick.measured, _SPACE, tuple(rests_on))
    for name in sorted(shop.jobs, key=natural):
        seat = shop.jobs[name].seat
        with_: tuple[Path, ...] = ()
        if seat.measured_with:
            with_ = (("nozzles", seat.measured_with),)
        yield _Dated(("jobs", name, "seat"), seat.measured_on, _SPACE, with_)
        for mark in sorted(seat.measured, key=natural):
            path = ("jobs", name, "seat", "measured", mark)
            rests = (("jobs", name, "board"), ("jobs", name, "panel"))
            yield _Dated(path, seat.measured[mark].measured, _PLANE, rests)


def _by_name(entries: Mapping[str, Entry]) -> list[tuple[str, Entry]]:
    return sorted(entries.items(), key=lambda entry: natural(entry[0]))


def _of_machine(machine: Machine) -> Iterator[_Dated]:
    points = [
        (("rest",), machine.rest, _PLANE),
        (("reject_bin",), machine.reject_bin, _PLANE),
        *((("rack", name), place, _SPACE) for name, place in _by_name(machine.rack)),
        *(
            (("feeder_rows", n, "first"), row.first, _SPACE)
            for n, row in _by_name(machine.feeder_rows)
        ),
    ]
    for path, point, axes in points:
        if point:
            yield _Dated(path, point.measured, axes)
    yield from _of_cameras(machine)
    down = tuple(("cameras", name) for name, c in _by_name(machine.cameras) if c.aim == "down")
    for name, spindle in _by_name(machine.spindles):
        offset = spindle.offset_from_camera
        path = ("spindles", name, "offset_from_camera")
        yield _Dated(path, offset.measured, _PLANE, (("spindles", name), *down))
        yield _Dated(("spindles", name), spindle.measured, ("rotation",))
    for name, nozzle in _by_name(machine.nozzles):
        yield _Dated(("nozzles", name), nozzle.measured, (), (("vacuum",),))
    if machine.vacuum:
        yield _Dated(("vacuum",), machine.vacuum.measured)
    if machine.reversal:
        yield _Dated(("reversal",), machine.reversal.measured, ("x", "y", "rotation"))


def _of_cameras(machine: Machine) -> Iterator[_Dated]:
    """Yield places and scales of cameras; one on the head is calibrated by moving it."""
    for name, camera in _by_name(machine.cameras):
        scale, position = camera.mm_per_pixel, camera.position
        if position:
            yield _Dated(("cameras", name, "position"), position.measured, _SPACE)
        if scale:
            axes = _PLANE if camera.aim == "down" else ()
            rests_on = (("cameras", name, "device"), ("cameras", name, "resolution_px"))
            yield _Dated(("cameras", name, "mm_per_pixel"), scale.measured, axes, rests_on)


@rule(
    Level.WARNING,
    fails="rack.p1.measured: 2026-10-29",
    passes="rack.p1.measured: 2026-10-30",
)
def measured_before_event(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Values were measured before an event touched something that they depend on.

    Places depend on the axes that they were measured with, picks on their row and their feeder,
    offsets on the camera of the head, thresholds on the vacuum. A camera's calibration has a rule
    of its own. All values that one event made old are one finding. Values that an event touches
    but that have no day are counted as not checked.

    On the machine: places, lengths or pressures may be those of a belt, a camera or a pump that
    has been replaced.

    To do: measure them again and write the day; if they still hold, write the day alone.

    Source: the description's own dates; the dependencies are common practice, no published
    source.
    """
    machine = look.shop.machine
    if machine is None:
        return
    events = sorted(machine.events.items(), key=lambda entry: (entry[1].date, entry[0]))
    past = [(key, event) for key, event in events if event.touched and event.date <= look.today]
    old: dict[str, list[_Dated]] = defaultdict(list)
    undated: dict[str, list[_Dated]] = defaultdict(list)
    for value in _dated(look.shop) if past else ():
        last = next((key for key, event in reversed(past) if _is_old(machine, value, event)), None)
        if last is not None:
            (undated if value.day is None else old)[last].append(value)
    for key, event in past:
        if key in old:
            yield _stale(look.shop, key, event, old[key])
    yield from _undated(look, undated)


def _is_old(machine: Machine, value: _Dated, event: Event) -> bool:
    """Tell whether a value may be from before an event, and has no rule of its own for that."""
    if value.day is not None and value.day >= event.date:
        return False
    if not any(map(value.is_touched, event.touched)):
        return False
    camera = machine.cameras.get(value.path[1]) if value.path[0] == "cameras" else None
    if camera is None or camera.calibrated is None or camera.calibrated.date >= event.date:
        # A calibration after the event measured the camera anew.
        return camera is None or camera.calibrated is None or value.day is not None
    return not is_calibration_touched(event, value.path[1], camera)


def _undated(look: Inspection, by_event: Mapping[str, list[_Dated]]) -> Iterator[Unchecked]:
    """Yield the values that a job uses, that events touched and that have no day: one in all."""
    values = [value for held in by_event.values() for value in held if _is_used(look, value.path)]
    if not values:
        return
    kinds = Counter("pick" if value.path[-1] == "pick" else "place" for value in values)
    events = [key for key, held in by_event.items() if any(value in values for value in held)]
    names = [show(value.path) for value in values]
    yield Unchecked(
        concerns=f"age of {joined([count(amount, kind) for kind, amount in kinds.items()])}",
        cause=f"no day of measuring on {listed(names, 3)}, touched by "
        f"{'events' if events[1:] else 'event'} {listed(events, 3)}",
        enabled_by="measured",
        paths=tuple(value.path for value in values),
        amount=len(values),
    )


def _is_used(look: Inspection, path: Path) -> bool:
    """Tell whether a job uses a value: the pick of a part that is placed, or a machine's place."""
    if path[0] != "feeders":
        return path[0] not in ("spindles", "nozzles", "vacuum", "reversal")
    part = look.shop.feeders[path[1]].part
    return part is not None and bool(look.facts.usage.placements_of_parts([part]))


def _stale(shop: Shop, key: str, event: Event, values: list[_Dated]) -> Problem:
    names = [show(value.path) for value in values]
    paths = [_day_path(shop, value) for value in values]
    note = f": {event.note}" if event.note else ""
    oldest = min(value.day for value in values if value.day)
    was = "value was" if len(values) == 1 else "values were"
    return Problem(
        path=paths[0],
        related=(*paths[1:_MOST_SHOWN], ("events", key, "touched")),
        message=f"{len(values)} {was} measured before event {key} ({event.date}{note}), which "
        f"touched {joined(event.touched)}.",
        observed=f"{listed(names, _MOST_SHOWN)}; the oldest of {oldest}",
        consequence="They may be from before that change.",
        remedy=("Measure them again and write the day. If they still hold, write the day alone.",),
    )


def _day_path(shop: Shop, value: _Dated) -> Path:
    """Return where the day of a value is written."""
    own = (*value.path, "measured_on")
    return own if shop.plain_at(own) is not None else (*value.path, "measured")


@rule(
    Level.WARNING,
    fails="parts.10k-0603.maker_number: RC-10K\nfeeders.f01.reel: {maker_number: RC-1K}",
    passes="parts.10k-0603.maker_number: RC-10K\nfeeders.f01.reel: {maker_number: rc-10k }",
)
def reel_of_other_part(look: Inspection) -> Iterator[Problem]:
    """The maker's number on a reel differs from that of the feeder's part.

    Large and small letters, blanks and hyphens make no difference.

    On the machine: another part may be placed, and the picture does not show it.

    To do: look at the reel; correct the feeder's part, or the number that is wrong.

    Source: one number written in two places.
    """
    for name in sorted(look.shop.feeders, key=natural):
        feeder = look.shop.feeders[name]
        part = look.shop.parts.get(feeder.part) if feeder.part else None
        on_reel = feeder.reel.maker_number if feeder.reel else None
        ordered = part.maker_number if part else None
        if not on_reel or not ordered or _bare(on_reel) == _bare(ordered):
            continue
        yield Problem(
            path=("feeders", name, "reel", "maker_number"),
            related=(("feeders", name, "part"), ("parts", str(feeder.part), "maker_number")),
            message=f"the reel on {name} is {on_reel}, but its part {feeder.part} is {ordered}.",
            observed=f"reel {on_reel}, part {ordered}; {needed_by(look.facts, [str(feeder.part)])}",
            consequence="Another part may be placed, and the picture would not show it.",
            remedy=("Look at the reel. Correct the feeder's part, or the number that is wrong.",),
        )


def _bare(maker_number: str) -> str:
    return re.sub(r"[\s_-]+", "", maker_number).lower()


@rule(
    Level.NOTE,
    fails="jobs.first-board.seat.z: -19.5",
    passes="jobs.first-board.seat.z: -19.5\ncameras.head.mm_per_pixel.at_z: -19.5",
    compares=True,
)
def copied_value_differs(look: Inspection) -> Iterator[Problem]:
    """A value that was the same in two places of the record was changed in one of them.

    Compared are seats of jobs in the same place, the height of a camera's scale with the boards
    that it sees, and with the focal plane of a camera that looks up.

    On the machine: if both described one thing, one is outdated: a job is placed at the old place
    of the jig, or a scale is used at another height than it was measured at.

    To do: measure, then write both; if they differ on purpose, `jobcheck keep` records it.

    Source: the last known-good record; nothing to measure.
    """
    if look.good is None or look.good is look.shop:
        return
    reported: set[Path] = set()
    for paths in _copies(look.good):
        found = _apart(look.good, look.shop, paths)
        if found and found[0] not in reported:
            reported.add(found[0])
            yield _copied(look.good, look.shop, *found)


def _copies(good: Shop) -> Iterator[list[Path]]:
    """Yield the paths that had one value in a record, where they may describe one thing."""
    seats: dict[tuple[float, ...], list[str]] = defaultdict(list)
    for name in sorted(good.jobs, key=natural):
        seat = good.jobs[name].seat
        seats[seat.x, seat.y, seat.z].append(name)
    for jobs in seats.values():
        for axis in _SPACE:
            yield [("jobs", name, "seat", axis) for name in jobs]
    for name, camera in _by_name(good.cameras):
        at_z = ("cameras", name, "mm_per_pixel", "at_z")
        if camera.aim == "up":
            yield [at_z, ("cameras", name, "position", "z")]
        else:
            yield [at_z, *(("jobs", job, "seat", "z") for job in sorted(good.jobs, key=natural))]


def _apart(good: Shop, shop: Shop, paths: list[Path]) -> tuple[Path, list[Path]] | None:
    """Return a value that was changed, and those like it that were not; None where all agree."""
    first = good.plain_at(paths[0])
    alike = [path for path in paths if good.plain_at(path) == first and first is not None]
    here = [path for path in alike if shop.plain_at(path) is not None]
    kept = [path for path in here if shop.plain_at(path) == first]
    changed = [path for path in here if path not in kept]
    return (changed[0], kept) if changed and kept else None


def _copied(good: Shop, shop: Shop, changed: Path, kept: list[Path]) -> Problem:
    was, now = good.plain_at(changed), shop.plain_at(changed)
    assert isinstance(was, (int, float))
    assert isinstance(now, (int, float))
    more = f" and {count(len(kept) - 1, 'other')}" if len(kept) > 1 else ""
    return Problem(
        path=changed,
        related=tuple(kept[:_MOST_SHOWN]),
        message=f"{show(changed)} was changed to {number(now)}, but {show(kept[0])}{more}, which "
        "had the same value, was not.",
        observed=f"{number(now)}; {show(kept[0])} {number(was)}",
        consequence="If both describe one thing, one of them is outdated.",
        remedy=(
            "Look which one is right, and write both. If they differ on purpose, record it:",
            command("keep", "--label", "TEXT"),
        ),
        suppresses=tuple(("scale-at-other-height", path) for path in (changed, *kept)),
    )
