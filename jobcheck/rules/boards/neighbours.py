"""Rules about neighbours: parts and obstacles that a nozzle would strike when it goes down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import NamedTuple

from jobcheck.facts.frames import Cell, Frames
from jobcheck.facts.layout import Layout
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import TOUCH_MM, layouts
from jobcheck.rules.boards.panels import panel_extent
from jobcheck.schema.machine import Machine, Obstacle
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body, close_pairs, distance, overlap_depth
from jobcheck.wording import count, listed, number


class _Tool(NamedTuple):
    """A tip or spindle that goes down with a part, from a height above its top; mm."""

    name: str
    radius: float
    above: float


class _Strike(NamedTuple):
    """A tool that goes down with one placement and strikes another, `lacks` in height; mm.

    It is certain if the tool is over the other body, not only near it.
    """

    placed: str
    struck: str
    tool: str
    lacks: float
    is_certain: bool


class _Site:
    """One job's bodies with their heights, tools and turn in the order of placing."""

    def __init__(self, shop: Shop, name: str, layout: Layout) -> None:
        self.shop, self.name, self.layout = shop, name, layout

    @cached_property
    def heights(self) -> list[float | None]:
        """Height of each body, mm; None unknown."""
        known = {part: self.shop.height_of(part) for part in dict.fromkeys(self.layout.parts)}
        return [known[part] for part in self.layout.parts]

    @cached_property
    def tools(self) -> dict[str, list[_Tool]]:
        """Outline -> its tools: its narrowest nozzle, and the narrowest spindle."""
        machine = self.shop.machine
        outlines = dict.fromkeys(shape.outline for shape in self.layout.shapes)
        return {name: _tools(self.shop, machine, name) if machine else [] for name in outlines}

    @cached_property
    def turns(self) -> list[tuple[float, ...]] | None:
        """When each body is placed; None where always the lowest of those left is next."""
        job = self.shop.jobs[self.name]
        listing = job.placements.by_reference
        orders = [listing[reference].order for reference in self.layout.references]
        if job.order == "lowest-first":
            if not any(orders):
                return None
            return [(o or 0, h or 0.0) for o, h in zip(orders, self.heights, strict=True)]
        return [(order or 0, at) for at, order in enumerate(orders)]

    def near(self, clearance: float) -> Iterator[tuple[int, int]]:
        """Yield bodies of which a tool that places one may strike the other."""
        reach = max(
            (
                tool.radius + clearance - min(shape.length, shape.width) / 2
                for shape in set(self.layout.shapes)
                for tool in self.tools[shape.outline]
                if tool.above < self._range
            ),
            default=0.0,
        )
        if reach <= self.layout.within:
            yield from ((close.one, close.other) for close in self.layout.close_bodies)
        else:
            yield from close_pairs(self.layout.bodies, reach)

    @cached_property
    def _range(self) -> float:
        """From the lowest to the tallest body, mm; tools that hang higher strike none."""
        known = [height for height in self.heights if height is not None]
        return max(known) - min(known) if known else 0.0


def _tools(shop: Shop, machine: Machine, outline: str) -> list[_Tool]:
    known = [name for name in shop.outlines[outline].nozzles if name in machine.nozzles]
    name = min(known, key=lambda name: machine.nozzles[name].tip_outer_mm, default=None)
    if name is None:
        return []
    nozzle = machine.nozzles[name]
    tools = [_Tool(f"nozzle {name}", nozzle.tip_outer_mm / 2, 0.0)]
    widths = [spindle.diameter_mm for spindle in machine.spindles.values()]
    narrowest = min((width for width in widths if width is not None), default=None)
    if narrowest is not None and None not in widths and nozzle.length_mm is not None:
        tools.append(_Tool(f"the spindle above {name}", narrowest / 2, nozzle.length_mm))
    return tools


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="""
    outlines.soic-8.open_below_mm: 0.5
    jobs.first-board.order: as-listed
    jobs.first-board.placements.R9: {part: 10k-0603, x: 24, y: 20, rotation: 0}
    jobs.first-board.bill: ~
    """,
    passes="""
    outlines.soic-8.open_below_mm: 0.5
    jobs.first-board.order: lowest-first
    jobs.first-board.placements.R9: {part: 10k-0603, x: 24, y: 20, rotation: 0}
    jobs.first-board.bill: ~
    """,
)
def nozzle_strikes_neighbour(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A nozzle, or the spindle above it, goes down onto a taller part that was placed before.

    With `order: lowest-first` no taller part is there yet, unless a placement has its own `order`.
    The narrowest of an outline's nozzles counts, and the spindle if its `diameter_mm` is
    described. It is an error if the tool is over the taller part, a warning if it is only nearer
    than `limits.nozzle_clearance_mm`. Heights that are unknown are counted as not checked.

    On the machine: the nozzle bends, or pushes the taller part off its pads.

    To do: place the lower part before the taller one, or with a narrower nozzle.

    Source: distance of a circle from a rectangle, arithmetic; `limits.nozzle_clearance_mm`: common
    practice, no published source.
    """
    for name, layout in layouts(look):
        site = _Site(look.shop, name, layout)
        if site.turns is None:
            continue
        yield from _without_height(name, site)
        if strikes := list(_strikes(look, site, site.turns)):
            yield _struck(look, name, sorted(strikes, key=lambda strike: natural(strike.placed)))


def _without_height(name: str, site: _Site) -> Iterator[Unchecked]:
    lacking = [
        shape.outline
        for shape, height in zip(site.layout.shapes, site.heights, strict=True)
        if height is None
    ]
    outlines = sorted(set(lacking), key=natural)
    if outlines:
        yield Unchecked(
            f"nozzles against {count(len(lacking), 'neighbour')} of {name}",
            f"no height_mm on {listed(outlines)}",
            "height_mm",
            tuple(("outlines", outline, "height_mm") for outline in outlines),
            len(lacking),
        )


def _strikes(
    look: Inspection, site: _Site, turns: Sequence[tuple[float, ...]]
) -> Iterator[_Strike]:
    for pair in site.near(look.limits.nozzle_clearance_mm):
        first, second = sorted(pair, key=turns.__getitem__)
        if turns[first] == turns[second]:
            continue
        placed_height, height = site.heights[first], site.heights[second]
        if placed_height is None or height is None or placed_height <= height:
            continue
        strike = _strike(look, site, first, second, placed_height - height)
        if strike is not None:
            yield strike


def _strike(
    look: Inspection, site: _Site, placed: int, placing: int, taller: float
) -> _Strike | None:
    layout = site.layout
    outline = layout.shapes[placing].outline
    away = distance(layout.bare(placed), layout.bodies[placing].centre)
    lower = taller + look.shop.outlines[outline].press_mm
    for tool in site.tools[outline]:
        if tool.above < lower and away < tool.radius + look.limits.nozzle_clearance_mm - 1e-9:
            return _Strike(
                layout.references[placing],
                layout.references[placed],
                tool.name,
                lower - tool.above,
                away < tool.radius - TOUCH_MM,
            )
    return None


def _struck(look: Inspection, name: str, strikes: list[_Strike]) -> Problem:
    job = look.shop.jobs[name]
    first = strikes[0]
    placements = ("jobs", name, "placements")
    by_number = job.placements.by_reference[first.placed].order is not None
    own = (*placements, first.placed, "order")
    shown = [
        f"{strike.placed} after {strike.struck}, which is {number(round(strike.lacks, 3))} mm "
        "higher"
        for strike in strikes
    ]
    one, is_certain = len(strikes) == 1, any(strike.is_certain for strike in strikes)
    return Problem(
        path=own if by_number or job.order == "lowest-first" else ("jobs", name, "order"),
        related=tuple((*placements, strike.struck) for strike in strikes[:4]),
        message=f"{first.tool} {'strikes' if is_certain else 'may strike'} {first.struck} when it "
        f"places {first.placed} of {name}."
        if one
        else f"{count(len(strikes), 'placement')} of {name} "
        f"{'would' if is_certain else 'may'} strike a taller part placed before.",
        observed=listed(shown, 3),
        consequence="The nozzle would bend, or push the taller part off its pads."
        if is_certain
        else "If the part was picked off its centre, the nozzle would touch the taller one.",
        remedy=("Place the lower part first, or with a narrower nozzle.",),
        level=Level.ERROR if is_certain else Level.WARNING,
    )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="obstacles.clamp: {x: [148, 152], y: [110, 140], top_z: -18}\n"
    "jobs.first-board.placements.R1: {part: 10k-0603, x: 2.6, y: 10, rotation: 0}",
    passes="obstacles.clamp: {x: [148, 152], y: [110, 140], top_z: -18}\n"
    "jobs.first-board.placements.R1: {part: 10k-0603, x: 2.9, y: 10, rotation: 0}",
)
def placement_strikes_obstacle(look: Inspection) -> Iterator[Problem]:
    """A part, or the nozzle that places it, comes down on an obstacle, such as a clamp.

    It is a warning if a nozzle is only nearer than `limits.nozzle_clearance_mm`.

    On the machine: the part breaks, or the nozzle bends.

    To do: move the clamp, or correct the place of the obstacle or of the seat.

    Source: bodies turned with seat and cell, separating axis theorem; arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not machine.obstacles:
        return
    for name, layout in layouts(look):
        frames = Frames(look.shop.jobs[name])
        site = _Site(look.shop, name, layout)
        for obstacle in sorted(machine.obstacles, key=natural):
            struck = _on_obstacle(look, frames, site, machine.obstacles[obstacle])
            if struck:
                yield _comes_down(look, name, obstacle, struck)


def _comes_down(
    look: Inspection, name: str, obstacle: str, struck: dict[str, tuple[str, str, bool]]
) -> Problem:
    assert look.shop.machine is not None
    described = look.shop.machine.obstacles[obstacle]
    references = sorted(struck, key=natural)
    would = "would" if any(entry[2] for entry in struck.values()) else "may"
    shown = [f"{struck[ref][0]} {ref}{struck[ref][1]}" for ref in references]
    return Problem(
        path=("obstacles", obstacle),
        related=(
            ("jobs", name, "seat"),
            *(("jobs", name, "placements", reference) for reference in references[:4]),
        ),
        message=f"{count(len(references), 'placement')} of {name} {would} come down on obstacle "
        f"{obstacle}.",
        observed=f"{listed(shown, 3)}; {obstacle} at x {number(described.x[0])} to "
        f"{number(described.x[1])}, y {number(described.y[0])} to {number(described.y[1])}, "
        f"top {number(described.top_z)}; seat z {number(look.shop.jobs[name].seat.z)}",
        consequence=f"The part {would} break, or the nozzle bend.",
        remedy=("Measure the places of the obstacle and the board; move it, or correct them.",),
        level=Level.ERROR if would == "would" else Level.WARNING,
    )


def _on_obstacle(
    look: Inspection, frames: Frames, site: _Site, obstacle: Obstacle
) -> dict[str, tuple[str, str, bool]]:
    """Return reference -> (part or nozzle, cell, certain) of those that strike an obstacle."""
    job, layout = frames.job, site.layout
    clearance = look.limits.nozzle_clearance_mm
    room = clearance + max((_size(site, at) for at in range(len(layout.bodies))), default=0.0)
    solid = _as_body(obstacle)
    if obstacle.top_z <= job.seat.z or not _meets(panel_extent(frames), obstacle, room):
        return {}
    struck: dict[str, tuple[str, str, bool]] = {}
    for cell in _cells_at(frames, obstacle, room):
        for at in range(len(layout.bodies)):
            body = _in_machine(frames, layout.bare(at), cell)
            rise = obstacle.top_z - job.seat.z
            what, is_certain = _what_strikes(site, at, body, solid, rise, clearance)
            if what and layout.references[at] not in struck:
                where = f" in {cell.name}" if cell.name else ""
                struck[layout.references[at]] = what, where, is_certain
    return struck


def _what_strikes(
    site: _Site, at: int, body: Body, solid: Body, rise: float, clearance: float
) -> tuple[str, bool]:
    """Return what comes down on an obstacle, `part`, a nozzle or none, and if that is certain."""
    if overlap_depth(body, solid) > TOUCH_MM:
        return "part", True
    height = site.heights[at]
    away = distance(solid, body.centre)
    for tool in site.tools[site.layout.shapes[at].outline] if height is not None else ():
        if rise > (height or 0.0) + tool.above and away < tool.radius + clearance - 1e-9:
            return f"{tool.name} with", away < tool.radius - TOUCH_MM
    return "", False


def _size(site: _Site, at: int) -> float:
    """Return how far a body and its tools reach from its centre at most, mm."""
    shape = site.layout.shapes[at]
    tools = site.tools[shape.outline]
    return max((shape.length + shape.width) / 2, *(tool.radius for tool in tools), 0.0)


def _as_body(obstacle: Obstacle) -> Body:
    (left, right), (low, high) = obstacle.x, obstacle.y
    return Body(((left + right) / 2, (low + high) / 2), right - left, high - low)


def _meets(corners: Sequence[tuple[float, float]], obstacle: Obstacle, room: float) -> bool:
    """Return whether the upright box around some corners is within `room` of an obstacle."""
    return all(
        min(corner[axis] for corner in corners) - room <= limits[1]
        and limits[0] <= max(corner[axis] for corner in corners) + room
        for axis, limits in ((0, obstacle.x), (1, obstacle.y))
    )


def _cells_at(frames: Frames, obstacle: Obstacle, room: float) -> Iterator[Cell]:
    """Yield the built cells whose board comes near an obstacle."""
    width, height = frames.job.board.size_mm
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    for cell in frames.cells():
        if not cell.is_skipped:
            on_seat = [frames.on_seat(frames.in_cell(corner, cell)) for corner in corners]
            if _meets(on_seat, obstacle, room):
                yield cell


def _in_machine(frames: Frames, body: Body, cell: Cell) -> Body:
    centre = frames.on_seat(frames.in_cell(body.centre, cell))
    angle = body.angle + cell.turn + frames.job.seat.rotation
    return Body(centre, body.length, body.width, angle)
