"""One placement from its list to the nozzle: every step of the chain as a value."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Cell, FoundMarks, Frames, Pose, frames_of
from jobcheck.facts.polarity import Leg, Legs
from jobcheck.trade.plane import Point
from jobcheck.trade.polarity import (
    PIN1_AT_ZERO,
    pin1_faces,
    spindle_turn,
    target_attitude,
)

if TYPE_CHECKING:
    from jobcheck.schema.job import Placement
    from jobcheck.schema.parts import Outline
    from jobcheck.shop.shop import Shop


class Take(NamedTuple):
    """How one feeder offers the part: attitude at pick A, spindle turn T, feed leg.

    `attitude` is what `pick.rotation` states, degrees in the machine frame; it and `turn` are None
    where they are not known.
    """

    feeder: str
    attitude: float | None
    turn: float | None
    leg: Leg


class Chain(NamedTuple):
    """Where one placement goes and how, step by step; mm and degrees, None unknown.

    `listed` is as in the list, its angle the listed rotation. `board`, with b
    for its angle, and `panel`, with the cell's turn, are seen from the side being placed. `seat`
    is where the seat puts it in the machine, `machine`, with B for its angle, where the measured
    marks do. `height` is that of the nozzle's lower end when it lets go, `head` where the head
    is then.
    """

    job: str
    reference: str
    part: str | None
    outline: str | None
    spindle: str | None
    cell: Cell
    zero_offset: float | None
    listed: Pose
    board: Pose
    panel: Pose
    seat: Pose
    found: FoundMarks
    machine: Pose
    pin1_faces: float | None
    height: float | None
    head: Point | None
    takes: tuple[Take, ...]
    is_zero_assumed: bool
    legs: Legs


def chain(
    facts: Facts,
    job: str,
    reference: str,
    cell: Cell | None = None,
    spindle: str | None = None,
    frames: Frames | None = None,
) -> Chain:
    """Return the chain of a placement that its job places.

    Without a cell it is the first that is built, without a spindle the first described. `frames`
    are those of the job, where somebody has them already. Raises `KeyError` for what is not there.
    """
    frames = frames or frames_of(facts.shop, job)
    cell = cell or frames.first_cell()
    placement = facts.shop.jobs[job].placements.by_reference[reference]
    known = facts.shop.parts.get(placement.part) if placement.part is not None else None
    outline = facts.shop.outlines.get(known.outline) if known else None
    board, panel, seat, machine = _poses(frames, placement, outline, cell)
    spindles = facts.shop.machine.spindles if facts.shop.machine else {}
    spindle = spindle or next(iter(spindles), None)
    return Chain(
        job=job,
        reference=reference,
        part=placement.part,
        outline=known.outline if known else None,
        spindle=spindle,
        cell=cell,
        zero_offset=frames.zero_offset(outline),
        listed=Pose(placement.x, placement.y, placement.rotation),
        board=board,
        panel=panel,
        seat=seat,
        found=frames.found,
        machine=machine,
        pin1_faces=_pin1_faces(outline, machine.angle),
        height=_height(facts.shop, frames, placement),
        head=_head(facts.shop, spindle, machine.point),
        takes=tuple(_takes(facts, placement.part, machine.angle)),
        is_zero_assumed=frames.is_zero_assumed,
        legs=facts.polarity.legs(job, reference),
    )


def _poses(
    frames: Frames, placement: Placement, outline: Outline | None, cell: Cell
) -> tuple[Pose, Pose, Pose, Pose]:
    """Return the poses on the board, on the panel, by the seat and by the marks."""
    b = frames.board_angle(placement, outline)
    listed = frames.through_top((placement.x, placement.y))
    on_panel = frames.on_panel(listed, cell)
    on_seat = frames.on_seat(on_panel)
    in_cell = None if b is None else target_attitude(b, cell.turn, 0.0)
    by_seat = None if b is None else target_attitude(b, cell.turn, frames.job.seat.rotation)
    return (
        Pose(*frames.on_board(listed), b),
        Pose(*on_panel, in_cell),
        Pose(*on_seat, by_seat),
        Pose(*frames.found.at(on_seat), None if b is None else frames.target(b, cell)),
    )


def _pin1_faces(outline: Outline | None, attitude: float | None) -> float | None:
    if outline is None or outline.pin1_at_zero is None or attitude is None:
        return None
    return pin1_faces(PIN1_AT_ZERO[outline.pin1_at_zero], attitude)


def _height(shop: Shop, frames: Frames, placement: Placement) -> float | None:
    """Return seat z + height - press: where the nozzle's lower end lets the part go."""
    height, outline = shop.height_of(placement.part), shop.outline_of(placement.part)
    if height is None or outline is None:
        return None
    return frames.job.seat.z + height - outline.press_mm


def _head(shop: Shop, spindle: str | None, tool: Point) -> Point | None:
    """Return where the head is: tool point = head position + the spindle's offset."""
    if shop.machine is None or spindle is None:
        return None
    offset = shop.machine.spindles[spindle].offset_from_camera
    return tool[0] - offset.x, tool[1] - offset.y


def _takes(facts: Facts, part: str | None, target: float | None) -> Iterator[Take]:
    for name in facts.usage.feeders_of_part(part) if part is not None else ():
        pick = facts.shop.feeders[name].pick
        attitude = pick.rotation if pick else None
        turn = None
        if attitude is not None and target is not None:
            turn = spindle_turn(target, attitude)
        yield Take(name, attitude, turn, facts.polarity.feeder(name))
