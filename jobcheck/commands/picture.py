"""What pictures show: a board with its findings, cameras' controls, one part from tape to pad."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.commands.diff import Compared, compare
from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.commands.where import where
from jobcheck.facts.board_view import BoardView, board_view
from jobcheck.facts.board_view import Body as Placed
from jobcheck.facts.carried import Carried, carried
from jobcheck.facts.carrying import taken_up
from jobcheck.facts.chain import Chain, Take
from jobcheck.facts.facts import Facts
from jobcheck.facts.fixtures import Fixture, boards, fixed
from jobcheck.facts.frames import frames_of
from jobcheck.facts.rows import Row
from jobcheck.findings import CallRefused, Finding, command
from jobcheck.known_good.known import KnownGood
from jobcheck.rules.registry import RULES
from jobcheck.schema.controls import overridden, show_control
from jobcheck.schema.machine import Camera, Machine, ReportedControl
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.trade.bodies import Body
from jobcheck.trade.optics import field_of_view
from jobcheck.trade.plane import Point


class Concern(NamedTuple):
    """A finding, and what it concerns on a board.

    `references` are placements, `spots` fiducials and holes by kind and name: `fiducials`, `m1`.
    """

    finding: Finding
    references: tuple[str, ...]
    spots: tuple[tuple[str, str], ...]


class BoardPicture(NamedTuple):
    """Both sides of a job, the one that is built first, and the open findings.

    `elsewhere` is how many open findings concern nothing on this board.
    """

    shop: Shop
    job: str
    sides: tuple[BoardView, ...]
    concerns: tuple[Concern, ...]
    elsewhere: int


def board_picture(
    root: FilePath, job: str, today: date, folder: FilePath | None = None
) -> BoardPicture:
    """Gather the picture of a job's board.

    Raises:
        CallRefused: the job does not exist or cannot be understood.
    """
    linted = lint_state(root, folder_state(root), RULES, today, folder=folder)
    shop = linted.reading.shop
    if shop is None:
        raise CallRefused("shop.yaml cannot be understood. To see why:", command("lint"))
    _require_job(shop, job)
    facts = Facts(shop)
    built = shop.jobs[job].side
    sides = [board_view(shop, job, built)]
    other = board_view(shop, job, "bottom" if built == "top" else "top")
    if other.bodies or other.not_fitted:
        sides.append(other)
    concerns = tuple(_concerns(facts, job, linted))
    return BoardPicture(shop, job, tuple(sides), concerns, len(linted.open) - len(concerns))


def _require_job(shop: Shop, job: str) -> None:
    require_job(shop, job)


def _concerns(facts: Facts, job: str, linted: LintedShop) -> Iterator[Concern]:
    for finding in sorted(linted.open, key=lambda one: one.level.rank):
        paths = (finding.path, *(related.path for related in finding.related))
        references = dict.fromkeys(ref for path in paths for ref in _references(facts, job, path))
        spots = dict.fromkeys(
            (path[3], path[4])
            for path in paths
            if path[:2] == ("jobs", job) and len(path) > 4 and path[3] in ("fiducials", "holes")
        )
        if references or spots or finding.path[:2] == ("jobs", job):
            yield Concern(finding, tuple(references), tuple(spots))


def _references(facts: Facts, job: str, path: Path) -> Iterable[str]:
    """Return the placements on a board that depend on a value."""
    match path:
        case ("jobs", name, "placements", reference, *_) if name == job:
            listing = facts.shop.jobs[job].placements.by_reference
            return (reference,) if reference in listing else ()
        case (_, _, *_):
            by_part = facts.usage.placements_by_part.get(job, {})
            return [ref for part in _parts(facts, path) for ref in by_part.get(part, ())]
        case _:
            return ()


def _parts(facts: Facts, path: Path) -> Iterable[str]:
    usage, (kind, name) = facts.usage, path[:2]
    match kind:
        case "parts":
            return (name,)
        case "outlines":
            return usage.parts_of_outline(name)
        case "recognitions":
            return usage.parts_of_recognition(name)
        case "nozzles":
            return usage.parts_of_nozzle(name)
        case "cameras":
            found = usage.recognitions_of_camera(name)
            return [part for one in found for part in usage.parts_of_recognition(one)]
        case "feeders":
            feeder = facts.shop.feeders.get(name)
            return (feeder.part,) if feeder and feeder.part else ()
        case _:
            return ()


class ChangedPart(NamedTuple):
    """A placement on one side before and after; None where it was not or is no longer placed."""

    reference: str
    old: Placed | None
    new: Placed | None

    @property
    def is_changed(self) -> bool:
        """Whether it has another place, turn or outline."""
        if self.old is None or self.new is None:
            return True
        turn = _angle(self.new) - _angle(self.old)
        is_same = self.old.outline == self.new.outline and turn % 360 == 0
        return not is_same or self.old.pose.point != self.new.pose.point


def _angle(body: Placed) -> float:
    return body.pose.angle or 0.0


class ChangedSide(NamedTuple):
    """One side of a board before and after."""

    before: BoardView
    after: BoardView
    parts: tuple[ChangedPart, ...]


class ChangePicture(NamedTuple):
    """The change of a job between two states, and all groups of changes with their impact."""

    compared: Compared
    job: str
    sides: tuple[ChangedSide, ...]


def change_picture(root: FilePath, job: str, old: str, new: str) -> ChangePicture:
    """Gather what changed on a board between two states.

    Raises:
        CallRefused: a state or the job does not exist, or a file is not understood.
    """
    compared = compare(root, old, new)
    for shop in (compared.old_shop, compared.new_shop):
        _require_job(shop, job)
    built = compared.new_shop.jobs[job].side
    sides: list[ChangedSide] = []
    for side in (built, "bottom" if built == "top" else "top"):
        before = board_view(compared.old_shop, job, side)
        after = board_view(compared.new_shop, job, side)
        olds, news = ({body.reference: body for body in v.bodies} for v in (before, after))
        parts = tuple(
            ChangedPart(reference, olds.get(reference), news.get(reference))
            for reference in dict.fromkeys((*news, *olds))
        )
        if parts or side == built:
            sides.append(ChangedSide(before, after, parts))
    return ChangePicture(compared, job, tuple(sides))


class FeederSpot(NamedTuple):
    """A feeder's pick, mm, and the direction in which its pockets move, degrees."""

    name: str
    label: str
    title: str
    pick: Point
    feed: float


class MachinePicture(NamedTuple):
    """What is where on the machine, seen from above, mm.

    `cells` are the boards of the panel on the seat, `fields` what each camera sees (of one on the
    head, where the head rests), `carriers` cut tapes and trays, `empty_slots` slots without a
    feeder; `not_drawn` are feeders without a pick.
    """

    shop: Shop
    job: str
    machine: Machine
    fixtures: tuple[Fixture, ...]
    cells: tuple[Body, ...]
    fields: tuple[tuple[str, Body], ...]
    carriers: tuple[Body, ...]
    feeders: tuple[FeederSpot, ...]
    empty_slots: tuple[Point, ...]
    not_drawn: tuple[str, ...]


def machine_picture(root: FilePath, job: str) -> MachinePicture:
    """Gather the machine from above, with one job's board on its seat.

    Raises:
        CallRefused: the job does not exist, or no machine is described.
    """
    shop = understood(read_shop(folder_state(root)))
    _require_job(shop, job)
    machine = shop.machine
    if machine is None:
        raise CallRefused("No machine is described: write `machine` in shop.yaml.")
    facts = Facts(shop)
    here = [one for one in boards(shop) if one.path == ("jobs", job, "seat")]
    carriers = (taken_up(shop, name) for name in shop.feeders)
    return MachinePicture(
        shop,
        job,
        machine,
        (*here, *fixed(machine)),
        tuple(_cells(shop, job)),
        tuple(_fields(machine)),
        tuple(body for body in carriers if body),
        tuple(spot for name in shop.feeders if (spot := _spot(facts, name))),
        tuple(_empty_slots(shop, machine)),
        tuple(name for name, feeder in shop.feeders.items() if feeder.pick is None),
    )


def _cells(shop: Shop, job: str) -> Iterator[Body]:
    frames = frames_of(shop, job)
    width, height = shop.jobs[job].board.size_mm
    turn = shop.jobs[job].seat.rotation + frames.found.turn
    for cell in frames.cells():
        middle = frames.in_cell((width / 2, height / 2), cell)
        yield Body(frames.found.at(frames.on_seat(middle)), width, height, turn)


def _fields(machine: Machine) -> Iterator[tuple[str, Body]]:
    for name, camera in machine.cameras.items():
        at = camera.position or machine.rest
        size = camera.field_mm
        if size is None and camera.resolution_px and camera.mm_per_pixel:
            scale = camera.mm_per_pixel
            columns, rows = camera.resolution_px
            size = list(field_of_view((columns, rows), (scale.x, scale.y)))
        if at is None or size is None:
            continue
        is_upright = camera.image is not None and camera.image.right.endswith("y")
        length, width = size[::-1] if is_upright else size
        yield name, Body((at.x, at.y), length, width)


def _spot(facts: Facts, name: str) -> FeederSpot | None:
    feeder = facts.shop.feeders[name]
    if feeder.pick is None:
        return None
    slot = f"{feeder.row} {feeder.slot}: " if feeder.row else ""
    return FeederSpot(
        name,
        f"{name} {feeder.part or 'empty'}",
        f"{slot}{name}, {feeder.part or 'no part'}, {feeder.carrier}; "
        f"pick x {feeder.pick.x:g}, y {feeder.pick.y:g}",
        (feeder.pick.x, feeder.pick.y),
        carried(facts, name).feed or 0.0,
    )


def _empty_slots(shop: Shop, machine: Machine) -> Iterator[Point]:
    taken = {(feeder.row, feeder.slot) for feeder in shop.feeders.values()}
    for name, described in machine.feeder_rows.items():
        row = Row(name, described)
        free = (slot for slot in range(1, described.slots + 1) if (name, slot) not in taken)
        yield from (row.slot_point(slot) for slot in free)


class ControlRow(NamedTuple):
    """One control of a camera; values in the control's own units, None where there is none.

    `reported` is the device's own range. `seen` is the value that the device had on the day when
    the camera was last seen as described. `says` compares described and recorded.
    """

    name: str
    reported: ReportedControl | None
    described: int | None
    recorded: int | None
    seen: int | None
    says: str
    is_lost: bool

    def shown(self, value: int) -> str:
        """Write a value with its meaning: `100 = 10 ms`."""
        return show_control(self.name, value)


class CameraCard(NamedTuple):
    """The controls of one camera; `seen` is the day when the device was compared, None never."""

    name: str
    camera: Camera
    rows: tuple[ControlRow, ...]
    seen: date | None


class CamerasPicture(NamedTuple):
    """The cards of all cameras; `record` is the title of the known-good record, empty for none.

    `damaged` says which newer records are damaged, and so not used.
    """

    shop: Shop
    record: str
    cards: tuple[CameraCard, ...]
    damaged: tuple[str, ...]


def cameras_picture(root: FilePath, only: str | None = None) -> CamerasPicture:
    """Gather the controls of every camera, or of one: default, described, recorded, seen.

    Raises:
        CallRefused: the shop cannot be understood, or has no such camera.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    if not shop.cameras:
        raise CallRefused("The machine has no camera.")
    if only is not None and only not in shop.cameras:
        raise CallRefused(f"Camera {only} does not exist. Cameras: {', '.join(shop.cameras)}.")
    known = KnownGood(reading, root)
    good = known.shop()
    cards = []
    chosen = [only] if only is not None else list(shop.cameras)
    for name, camera in ((name, shop.cameras[name]) for name in chosen):
        before = good.cameras.get(name) if good else None
        rows = tuple(_control_rows(camera, before))
        cards.append(CameraCard(name, camera, rows, camera.seen))
    damaged = tuple(fault.message for fault in known.faults)
    return CamerasPicture(shop, known.title if good else "", tuple(cards), damaged)


def _control_rows(camera: Camera, before: Camera | None) -> Iterator[ControlRow]:
    now, then = camera.controls or {}, (before.controls or {}) if before else {}
    names = dict.fromkeys((*then, *now, *camera.reported))
    governed = {other: name for name, value in now.items() for other in overridden(name, value)}
    for name in names:
        reported, described, recorded = camera.reported.get(name), now.get(name), then.get(name)
        default = reported.default if reported else None
        seen = described if camera.seen else None
        is_lost = recorded is not None and described != recorded
        says = _compared(name, described, recorded, default)
        if described is not None and name in governed:
            says += f"; overridden by {governed[name]}"
        yield ControlRow(name, reported, described, recorded, seen, says, is_lost)


def _compared(name: str, described: int | None, recorded: int | None, default: int | None) -> str:
    if described is None and recorded is None:
        return "not described"
    if described is None:
        return f"missing; recorded {show_control(name, recorded or 0)}"
    value = show_control(name, described)
    if recorded is None:
        return f"{value}; not in the record"
    if described == recorded:
        return f"{value}, as recorded"
    fell = ", the device's default" if described == default else ""
    return f"{value}{fell}; recorded {show_control(name, recorded)}"


class PartPicture(NamedTuple):
    """One placement from pocket to pad: the chain of `where`, and how its feeder carries it.

    `take` and `carried` are None where no feeder holds the part.
    """

    shop: Shop
    chain: Chain
    outline: Outline
    take: Take | None
    carried: Carried | None
    tip_mm: float | None


def part_picture(root: FilePath, job: str, reference: str, cell: str | None = None) -> PartPicture:
    """Gather how one placement is turned from its pocket to its pad.

    Raises:
        CallRefused: job, reference or cell does not exist, or the outline is not described.
    """
    found = where(root, reference, job, cell)
    chain, shop = found.chain, found.shop
    outline = shop.outlines.get(chain.outline or "")
    if outline is None:
        raise CallRefused(f"The outline of {reference} is not described: nothing can be drawn.")
    take = chain.takes[0] if chain.takes else None
    spindle = shop.machine.spindles.get(chain.spindle or "") if shop.machine else None
    carries = spindle.carries if spindle else None
    names = [carries] if carries in outline.nozzles else outline.nozzles
    nozzles = shop.machine.nozzles if shop.machine else {}
    tip = next((nozzles[name].tip_outer_mm for name in names if name in nozzles), None)
    return PartPicture(
        shop, chain, outline, take, carried(Facts(shop), take.feeder) if take else None, tip
    )
