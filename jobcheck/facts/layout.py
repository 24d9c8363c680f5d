"""Where the bodies of a job are on its board, and which come close to each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import islice, product
from typing import TYPE_CHECKING, Literal, NamedTuple

from jobcheck.facts.frames import Frames, frames_of
from jobcheck.facts.usage import Usage
from jobcheck.trade.bodies import Body, close_pairs, distance, extent, gap
from jobcheck.trade.plane import Point
from jobcheck.trade.polarity import board_angle

if TYPE_CHECKING:
    from jobcheck.schema.job import Job
    from jobcheck.shop.shop import Shop

LARGEST_MM = 1e5
"""Larger or more distant things are not bodies or fiducials of a board."""

_PAIRS_EACH = 4
_PAIRS_MORE = 1000
"""Pairs looked at, for each body and beyond that: in a heap they grow with the square."""


class Shape(NamedTuple):
    """A body without its place: outline, size over terminals, turn, size of its upright box; mm."""

    outline: str
    length: float
    width: float
    angle: float
    across: float
    along: float
    bare: tuple[float, float]
    """Length and width of the body without its terminals, as far as they are described apart."""


class Round(NamedTuple):
    """A hole, or a fiducial with its clear ring, seen from the side being placed, mm."""

    kind: Literal["holes", "fiducials"]
    name: str
    centre: Point
    radius: float
    ring: float


class Close(NamedTuple):
    """A body and what it comes close to, by their places in the layout.

    `gap` is their clearance, mm; below 0 how deep they overlap.
    """

    one: int
    other: int
    gap: float


@dataclass(frozen=True)
class Layout:
    """What a job places on its board, seen from the side being placed, in list order; mm.

    A placement without a known outline or turn is left out. `shapes` are those of the bodies,
    which include their terminals where the outline gives `over_terminals_mm`; `rounds` are holes
    and fiducials; things nearer than `within` are close; `board` is its width and height.
    """

    references: list[str]
    parts: list[str]
    shapes: list[Shape]
    bodies: list[Body]
    rounds: list[Round]
    within: float
    board: Point

    @cached_property
    def on_board(self) -> dict[str, list[int]]:
        """Outline -> its bodies whose centre is on the board; others have their own finding."""
        width, height = self.board
        found: dict[str, list[int]] = defaultdict(list)
        for at, ((x, y), *_) in enumerate(self.bodies):
            if 0 <= x <= width and 0 <= y <= height:
                found[self.shapes[at].outline].append(at)
        return dict(found)

    def bare(self, at: int) -> Body:
        """Return a body without its terminals: only that is certain to be solid."""
        body = self.bodies[at]
        return Body(body.centre, *self.shapes[at].bare, body.angle)

    def corners(self, places: Iterable[int]) -> list[Point]:
        """Return the corners of the upright box around the centres of some bodies."""
        xs, ys = zip(*(self.bodies[at].centre for at in places), strict=True)
        return list(product((min(xs), max(xs)), (min(ys), max(ys))))

    @cached_property
    def _found(self) -> tuple[list[Close], list[Close], bool]:
        squares = [Body(thing.centre, 2 * thing.ring, 2 * thing.ring) for thing in self.rounds]
        most = _PAIRS_EACH * len(self.bodies) + _PAIRS_MORE
        pairs = list(islice(close_pairs([*self.bodies, *squares], self.within), most))
        bodies, rounds = [], []
        for one, other in pairs:
            if other < len(self.bodies):
                bodies.append(Close(one, other, gap(self.bodies[one], self.bodies[other])))
            elif one < len(self.bodies):
                rounds.append(self._to_round(one, other - len(self.bodies)))
        return self._close(bodies), self._close(rounds), len(pairs) == most

    def _to_round(self, body: int, other: int) -> Close:
        thing = self.rounds[other]
        return Close(body, other, distance(self.bodies[body], thing.centre) - thing.ring)

    def _close(self, found: list[Close]) -> list[Close]:
        return sorted(close for close in found if close.gap < self.within - 1e-9)

    @property
    def close_bodies(self) -> list[Close]:
        """Pairs of bodies that come close, in the order of the list."""
        return self._found[0]

    @property
    def close_rounds(self) -> list[Close]:
        """Bodies that come close to something round; `other` counts `rounds`."""
        return self._found[1]

    @property
    def is_heap(self) -> bool:
        """Whether so many come close that not every pair was looked at."""
        return self._found[2]


def lay_out(shop: Shop, usage: Usage, name: str) -> Layout:
    """Return where the bodies of a job are on its board."""
    job = shop.jobs[name]
    frames = frames_of(shop, name)
    columns = usage.placed[name]
    lying = list(zip(columns.parts, columns.rotations, strict=True))
    known = {(part, turn): _shape(shop, frames, part, turn) for part, turn in dict.fromkeys(lying)}
    placed = [
        (reference, part, shape, x, y)
        for reference, (part, _), shape, x, y in zip(
            columns.references, lying, map(known.get, lying), columns.xs, columns.ys, strict=True
        )
        if part is not None and shape is not None and -LARGEST_MM < x < LARGEST_MM > abs(y)
    ]
    width = job.board.size_mm[0] if frames.is_bottom else None
    return Layout(
        references=[reference for reference, _, _, _, _ in placed],
        parts=[part for _, part, _, _, _ in placed],
        shapes=[shape for _, _, shape, _, _ in placed],
        bodies=[
            Body((x if width is None else width - x, y), shape.length, shape.width, shape.angle)
            for _, _, shape, x, y in placed
        ],
        rounds=[thing for thing in _rounds(job) if _is_sane(thing)],
        within=shop.limits.body_clearance_mm,
        board=(job.board.size_mm[0], job.board.size_mm[1]),
    )


def _shape(shop: Shop, frames: Frames, part: str | None, rotation: float) -> Shape | None:
    """Return a part's body as it is turned on the board; None is unknown."""
    outline = shop.outline_of(part)
    convention = frames.job.placements.bottom if frames.is_bottom else None
    if part is None or outline is None or (frames.is_bottom and convention is None):
        return None
    length, width = outline.size_mm
    if max(length, width) > LARGEST_MM:
        return None
    zero = frames.zero_offset(outline)
    if zero is None:
        return None
    angle = board_angle(rotation, zero, convention)
    name = shop.parts[part].outline
    bare = outline.body_mm[0], outline.body_mm[1]
    return Shape(name, length, width, angle, *extent(length, width, angle), bare)


def _is_sane(thing: Round) -> bool:
    return max(abs(thing.centre[0]), abs(thing.centre[1]), thing.ring) <= LARGEST_MM


def _rounds(job: Job) -> Iterator[Round]:
    """Yield holes and fiducials; an undescribed clear ring is as wide as the fiducial's radius.

    Source: clear ring at least the fiducial's radius, SMEMA fiducial mark standard.
    """
    for name, hole in job.board.holes.items():
        half = hole.diameter_mm / 2
        yield Round("holes", name, (hole.x, hole.y), half, half)
    for name, mark in job.board.fiducials.items():
        half = mark.diameter_mm / 2
        ring = half + (half if mark.clear_mm is None else mark.clear_mm)
        yield Round("fiducials", name, (mark.x, mark.y), half, ring)
