"""Rules about bodies: those that overlap each other, a hole or a fiducial."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Cell, Frames
from jobcheck.facts.layout import Close, Layout, Round
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.placements import share_a_cause
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body, distance, gap, margin_within
from jobcheck.trade.plane import Point
from jobcheck.wording import count, listed, number

TOUCH_MM = 1e-6
"""Less is the rounding of the arithmetic."""

OVERLAP_MM = 0.1
"""Bodies that overlap by less may only touch: `body_mm` is nominal, moulded bodies vary by so much
(common practice, no published source)."""

_COMMON = 3
"""So many pairs with one outline look like its body; with one placement, like its position."""

_MOST_APART = 6
"""More placements than this at fault in one job are one finding."""

_MOST_ALSO = 5


class Pair(NamedTuple):
    """Two placements of one job whose bodies come close; `gap` below 0 is how deep, mm.

    `bare` is the gap between their bodies without terminals.
    """

    job: str
    one: str
    other: str
    outlines: tuple[str, str]
    gap: float
    bare: float

    @property
    def references(self) -> tuple[str, str]:
        """Both references."""
        return self.one, self.other


def layouts(look: Inspection) -> Iterator[tuple[str, Layout]]:
    """Yield the layouts of jobs by name, but none whose placements share one fault."""
    for name in sorted(look.shop.jobs, key=natural):
        if not share_a_cause(look, name):
            yield name, look.facts.layouts[name]


def _pairs(look: Inspection) -> list[Pair]:
    """Return the pairs of bodies that come close, unless one has room for the other below it."""
    found = []
    for name, layout in layouts(look):
        for close in layout.close_bodies:
            room = _room_below(look.shop, layout, close)
            if room is None:
                found.append(_pair(name, layout, close))
            elif room < -OVERLAP_MM:  # a rim may have a notch there
                found.append(_pair(name, layout, close)._replace(bare=0.0))
    return found


def _pair(name: str, layout: Layout, close: Close) -> Pair:
    one, other = sorted((close.one, close.other), key=lambda at: natural(layout.references[at]))
    outlines = layout.shapes[one].outline, layout.shapes[other].outline
    bare = gap(layout.bare(one), layout.bare(other))
    return Pair(name, layout.references[one], layout.references[other], outlines, close.gap, bare)


def _room_below(shop: Shop, layout: Layout, close: Close) -> float | None:
    """Return how far inside the rim of a cover, such as a shield, a lower part is, mm.

    Below 0 it crosses the rim; None where neither of the two has room for the other below it. A
    part beside a cover is not below it.
    """
    for cover, below in ((close.one, close.other), (close.other, close.one)):
        room = shop.outlines[layout.shapes[cover].outline].open_below_mm
        height = shop.height_of(layout.parts[below]) if room is not None else None
        if room is not None and height is not None and height <= room:
            inside = margin_within(layout.bodies[below], layout.bare(cover))
            return inside if close.gap < -OVERLAP_MM else 0.0
    return None


def _overlapping(pairs: Iterable[Pair]) -> list[Pair]:
    return [pair for pair in pairs if pair.gap < -OVERLAP_MM]


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.C2.x: 23.4",
    passes="jobs.first-board.placements.C2.x: 23.65\nshop.limits.body_clearance_mm: 0",
)
def bodies_too_close(look: Inspection) -> Iterator[Problem]:
    """Two parts overlap on the board, or are nearer than `limits.body_clearance_mm`.

    It is an error if two bodies overlap by 0.1 mm or more. It is a warning if only the terminals
    reach over the other part (`over_terminals_mm`), if a part crosses the rim of one with
    `open_below_mm`, or if parts are only near. Many pairs with one outline are reported at its
    body, many with one placement at its position.

    On the machine: the second part is placed on the first, and the nozzle presses both; or the
    nozzle, or a part that is picked off its centre, touches the neighbour.

    To do: correct the position, or the outline's `body_mm` if that is wrong. Parts that are only
    near: move them apart in the design, or lower the limit if they were always placed well.

    Source: separating axis theorem, S. Gottschalk, M. C. Lin, D. Manocha, OBBTree, SIGGRAPH 1996;
    `limits.body_clearance_mm`: twice the courtyard of IPC-7351 level C (from memory).
    """
    pairs = _pairs(look)
    left = _overlapping(pairs)
    while (outline := _outline_at_fault(look.facts, left)) is not None:
        found = [pair for pair in left if outline in pair.outlines]
        left = [pair for pair in left if outline not in pair.outlines]
        yield _outline_overlaps(look.facts, outline, found)
    for name in dict.fromkeys(pair.job for pair in left):
        yield from _overlaps_of_job(look, name, [pair for pair in left if pair.job == name])
    yield from _near(look, pairs)


def _outline_at_fault(facts: Facts, pairs: list[Pair]) -> str | None:
    """Return the outline that most pairs share, if neither a placement nor another outline has all.

    At least half of its placements must be among them: common practice, no published source.
    """
    shared: Counter[str] = Counter()
    together: Counter[tuple[str, str]] = Counter(p.outlines for p in pairs)
    touched: dict[str, set[tuple[str, str]]] = defaultdict(set)
    by_reference: Counter[tuple[str, str]] = Counter()
    for pair in pairs:
        shared.update(set(pair.outlines))
        for reference, outline in zip(pair.references, pair.outlines, strict=True):
            touched[outline].add((pair.job, reference))
            by_reference[pair.job, reference] += 1
    for outline, number_of_pairs in sorted(shared.items(), key=lambda e: (-e[1], natural(e[0]))):
        placed = sum(map(len, _references_of(facts, outline).values()))
        alone = max((by_reference[reference] for reference in touched[outline]), default=0)
        with_one = max(
            together[outline, other] + together[other, outline] if other != outline else 0
            for other in shared
        )
        explains = _COMMON <= number_of_pairs > max(alone, with_one)
        if explains and 2 * len(touched[outline]) >= placed:
            return outline
    return None


def _references_of(facts: Facts, outline: str) -> dict[str, list[str]]:
    return facts.usage.placements_of_parts(facts.usage.parts_of_outline(outline))


def _outline_overlaps(facts: Facts, outline: str, pairs: list[Pair]) -> Problem:
    references = _references_of(facts, outline)
    least = " or more" if any(facts.layouts[pair.job].is_heap for pair in pairs) else ""
    body = " × ".join(number(side) for side in facts.shop.outlines[outline].size_mm)
    jobs = listed([f"{len(references[job])} in {job}" for job in sorted(references, key=natural)])
    shown = [f"{pair.one} and {pair.other} by {in_mm(-pair.gap)}" for pair in pairs]
    return Problem(
        path=("outlines", outline, facts.shop.outlines[outline].size_field),
        related=tuple(placement_path(pair.job, pair.other) for pair in pairs[:_MOST_ALSO]),
        message=f"{outline} overlaps other parts in {count(len(pairs), 'pair')}{least}.",
        observed=f"size {body} mm, placed {jobs}; {listed(shown, 3)}",
        consequence="Either the outline is too large, or parts would be placed on each other.",
        remedy=("Look at the maker's drawing. If body_mm is right, correct the positions.",),
        suppresses=tuple(
            (follower, placement_path(job, reference))
            for job, placed in references.items()
            for reference in placed
            for follower in ("body-beyond-edge", "body-over-hole-or-fiducial")
        ),
        level=_level(pairs),
    )


def _overlaps_of_job(look: Inspection, job: str, pairs: list[Pair]) -> Iterator[Problem]:
    """Yield one problem for each placement at fault, or one for all where there are many."""
    groups = list(_by_placement(look, job, pairs))
    if len(groups) <= _MOST_APART:
        for reference, its_pairs in groups:
            yield _overlap(look, job, reference, its_pairs)
        return
    shown = [f"{pair.one} and {pair.other} by {in_mm(-pair.gap)}" for pair in pairs]
    least = " or more" if look.facts.layouts[job].is_heap else ""
    yield Problem(
        path=placement_path(job, groups[0][0]),
        related=tuple(placement_path(job, reference) for reference, _ in groups[1:_MOST_ALSO]),
        message=f"{count(len(pairs), 'pair')}{least} of parts of {job} overlap.",
        observed=listed(shown, 4),
        consequence="Parts would be placed on each other.",
        remedy=(
            "Find out which revision of the board the list belongs to, and correct the positions.",
        ),
        level=_level(pairs),
    )


def _level(pairs: Iterable[Pair]) -> Level:
    """Two bodies cannot be in one place; beside a terminal there may be room."""
    is_certain = any(pair.bare < -OVERLAP_MM for pair in pairs)
    return Level.ERROR if is_certain else Level.WARNING


def _by_placement(
    look: Inspection, job: str, pairs: list[Pair]
) -> Iterator[tuple[str, list[Pair]]]:
    """Yield (reference, its pairs), first the one that most pairs share or that was changed."""
    good = look.good
    degree = Counter(reference for pair in pairs for reference in pair.references)

    def suspicion(reference: str) -> tuple[bool, int]:
        path = placement_path(job, reference)
        recorded = good.plain_at(path) if good else None
        return bool(good) and recorded != look.shop.plain_at(path), degree[reference]

    suspects = sorted(degree, key=natural, reverse=True)
    suspects.sort(key=suspicion, reverse=True)
    rank = {reference: place for place, reference in enumerate(suspects)}
    groups: dict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        groups[min(pair.references, key=rank.__getitem__)].append(pair)
    for reference in sorted(groups, key=natural):
        yield reference, groups[reference]


def _overlap(look: Inspection, job: str, reference: str, pairs: list[Pair]) -> Problem:
    others = {next(r for r in pair.references if r != reference): pair.gap for pair in pairs}
    names = sorted(others, key=natural)
    listing = look.shop.jobs[job].placements.by_reference
    depth = -min(others.values())
    deepest = f"by {in_mm(depth)}" if len(names) == 1 else f"by up to {in_mm(depth)}"
    return Problem(
        path=placement_path(job, reference),
        related=tuple(placement_path(job, other) for other in names[:_MOST_ALSO]),
        message=f"{reference} overlaps {listed(names, 4)} {deepest} in {job}.",
        observed="; ".join(
            f"{name} ({_body(look.shop, job, name)}) at {number(listing[name].x)}, "
            f"{number(listing[name].y)}"
            for name in (reference, *names[:2])
        ),
        consequence="The part placed second would be placed on the first.",
        remedy=("Correct the position, or the size of the outline if that is wrong.",),
        level=_level(pairs),
    )


def _body(shop: Shop, job: str, reference: str) -> str:
    part = shop.jobs[job].placements.by_reference[reference].part
    outline = shop.parts[part].outline if part is not None else ""
    size = " × ".join(number(side) for side in shop.outlines[outline].size_mm)
    return f"{outline}, {size} mm"


def placement_path(job: str, reference: str) -> Path:
    """Return the path of a row of a placement list."""
    return ("jobs", job, "placements", reference)


def in_mm(value: float) -> str:
    """Write a length to a micrometre: `0.125 mm`."""
    return f"{number(round(value, 3))} mm"


def _near(look: Inspection, pairs: list[Pair]) -> Iterator[Problem]:
    """Yield the pairs that are only near; distances of a part that overlaps something are left."""
    unsettled = {(pair.job, ref) for pair in _overlapping(pairs) for ref in pair.references}
    by_job: dict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        if not any((pair.job, reference) in unsettled for reference in pair.references):
            by_job[pair.job].append(pair)
    for job, close in by_job.items():
        close.sort(key=lambda pair: pair.gap)
        first, one = close[0], len(close) == 1
        yield Problem(
            path=placement_path(job, first.other),
            related=(
                placement_path(job, first.one),
                *(placement_path(job, pair.other) for pair in close[1:_MOST_ALSO]),
            ),
            message=f"{first.one} and {first.other} of {job} are {_apart(first.gap)}."
            if one
            else f"{len(close)} pairs of parts of {job} are nearer than "
            f"{in_mm(look.limits.body_clearance_mm)}.",
            observed=listed([f"{p.one} and {p.other} {_apart(p.gap)}" for p in close], 4)
            + (f"; {in_mm(look.limits.body_clearance_mm)} is the limit" if one else ""),
            consequence="The nozzle, or a part picked off its centre, may touch the neighbour.",
            remedy=("Move them apart in the design, or lower limits.body_clearance_mm.",),
            level=Level.WARNING,
        )


def _apart(gap: float) -> str:
    if gap < -TOUCH_MM:
        return f"over each other by {in_mm(-gap)}"
    return f"{in_mm(gap)} apart" if gap > TOUCH_MM else "edge to edge"


def _gap_to_round(body: Body, centre: Point, radius: float) -> float:
    """From a body to a circle, mm: below 0 over it, minus the diameter over all of it."""
    square = Body(centre, 2 * radius, 2 * radius, body.angle)
    if margin_within(square, body) >= 0:
        return -2 * radius
    return distance(body, centre) - radius


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.board.holes.h1: {x: 29, y: 11, diameter_mm: 3.2}",
    passes="jobs.first-board.board.holes.h1: {x: 29, y: 11.5, diameter_mm: 3.2}\n"
    "jobs.first-board.placements.R1: {part: 10k-0603, x: 5.85, y: 4, rotation: 0}",
)
def body_over_hole_or_fiducial(look: Inspection) -> Iterator[Problem]:
    """A part is over a hole or a fiducial of the board or panel, or too near to it.

    It is an error where the body covers a part of a hole by 0.1 mm or more. It is a warning where
    it covers all of it, as a part does whose pegs, sound or light go through the board, for
    terminals, and for what is nearer than `limits.body_clearance_mm`. A fiducial may be under a
    part if it is read before, so a part in its clear ring is a warning; without `clear_mm` the
    ring is as wide as the fiducial's radius.

    On the machine: the part is in the place of a screw or a pin, and its pads are drilled away; a
    fiducial is not found once the part is placed, or is found beside itself.

    To do: correct the position of the part, the hole or the fiducial.

    Source: distance of a circle from a rectangle, arithmetic; the clearance as `bodies-too-close`;
    clear ring at least the fiducial's radius, SMEMA fiducial mark standard (second-hand).
    """
    for job, layout in layouts(look):
        over: dict[int, list[tuple[float, float, str]]] = defaultdict(list)
        for close in layout.close_rounds:
            thing = layout.rounds[close.other]
            if thing.kind == "holes" or close.gap < -TOUCH_MM:
                bare = _gap_to_round(layout.bare(close.one), thing.centre, thing.radius)
                away = close.gap + thing.ring - thing.radius
                over[close.other].append((bare, away, layout.references[close.one]))
        for at in sorted(over):
            yield _over_round(look, job, layout.rounds[at], over[at])
        on_panel = _over_panel_fiducials(Frames(look.shop.jobs[job]), layout)
        for name in sorted(on_panel, key=natural):
            yield _over_panel_fiducial(job, name, on_panel[name])


def _over_round(
    look: Inspection, job: str, thing: Round, over: list[tuple[float, float, str]]
) -> Problem:
    """Return the problem of the parts over one hole or fiducial: (bare gap, gap, reference)."""
    references = sorted((reference for _, _, reference in over), key=natural)
    bare, away = min(entry[0] for entry in over), min(entry[1] for entry in over)
    is_hole, is_over = thing.kind == "holes", bare < -OVERLAP_MM
    is_own = bare <= -2 * thing.radius
    one = "hole" if is_hole else "fiducial"
    near = "close to" if is_hole else "in the clear ring of"
    limit = f"; {in_mm(look.limits.body_clearance_mm)} is the limit" * is_hole
    return Problem(
        path=placement_path(job, references[0]),
        related=(
            ("jobs", job, "board", thing.kind, thing.name),
            *(placement_path(job, other) for other in references[1:_MOST_ALSO]),
        ),
        message=f"{listed(references, 4)} {'is' if len(references) == 1 else 'are'} "
        f"{'over' if is_over else near} {one} {thing.name} of {job}.",
        observed=f"{one} at {number(thing.centre[0])}, {number(thing.centre[1])}, diameter "
        f"{number(2 * thing.radius)} mm; "
        + (f"{in_mm(-bare)} over it" if is_over else f"{_apart(away)}{limit}"),
        consequence=_over_hole(is_over, is_own) if is_hole else _OVER_FIDUCIAL,
        remedy=(f"Correct the position of the part or of the {one}.",),
        level=Level.ERROR if is_hole and is_over and not is_own else Level.WARNING,
    )


_OVER_FIDUCIAL = "Once the part is placed, the fiducial may be found beside itself, or not."


def _over_hole(is_over: bool, is_own: bool) -> str:
    if is_over and is_own:
        return "If the hole is not for the part itself, a screw or pin in it would strike the part."
    if is_over:
        return "A screw or pin in the hole would strike the part."
    return "The head of a screw, or a hole drilled a little off, may touch the part."


Over = list[tuple[str, str, float]]
"""Reference, cell, and depth in the fiducial of the body, below 0 beside it; mm."""


def _over_panel_fiducials(frames: Frames, layout: Layout) -> dict[str, Over]:
    """Return the panel's fiducials with the bodies in their clear rings, in built cells."""
    panel = frames.job.panel
    if panel is None or not panel.fiducials:
        return {}
    reach = max((max(shape.across, shape.along) for shape in layout.shapes), default=0.0)
    found: dict[str, Over] = defaultdict(list)
    for cell in frames.cells():
        for name, mark in panel.fiducials.items():
            at = _on_board(frames, (mark.x, mark.y), cell, layout.board)
            radius = mark.diameter_mm / 2
            ring = radius + (radius if mark.clear_mm is None else mark.clear_mm)
            is_near = all(-reach - ring <= at[i] <= layout.board[i] + reach + ring for i in (0, 1))
            if cell.is_skipped or not is_near:
                continue
            for body in range(len(layout.bodies)):
                if distance(layout.bodies[body], at) < ring - TOUCH_MM:
                    depth = radius - distance(layout.bare(body), at)
                    found[name].append((layout.references[body], cell.name, depth))
    return found


def _on_board(frames: Frames, point: Point, cell: Cell, size: Point) -> Point:
    """Return a point of the panel as the board in one cell has it."""
    corner = frames.in_cell(size if cell.is_half_turned else (0.0, 0.0), cell)
    x, y = point[0] - corner[0], point[1] - corner[1]
    return (size[0] - x, size[1] - y) if cell.is_half_turned else (x, y)


def _over_panel_fiducial(job: str, name: str, over: Over) -> Problem:
    over = sorted(over, key=lambda entry: -entry[2])
    is_over = over[0][2] > OVERLAP_MM
    shown = [f"{reference} in cell {cell}" for reference, cell, _ in over]
    verb = "is" if len(over) == 1 else "are"
    return Problem(
        path=placement_path(job, over[0][0]),
        related=(("jobs", job, "panel", "fiducials", name),),
        message=f"{listed(shown, 3)} {verb} {'over' if is_over else 'in the clear ring of'} "
        f"fiducial {name} of the panel of {job}.",
        observed=f"{in_mm(over[0][2])} over it" if is_over else f"{in_mm(-over[0][2])} from it",
        consequence=_OVER_FIDUCIAL,
        remedy=("Correct the position of the fiducial, or pitch and origin of the panel.",),
        level=Level.WARNING,
    )
