"""Rules about what a camera can see of a part or a fiducial: field, pixels, height of scale."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.carrying import most_turn_deg
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.facts.reach import parts_reached, reach
from jobcheck.facts.sheets import search_radius, sheets
from jobcheck.facts.travel import is_inside
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.schema.values import Mark
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.optics import field_of_view, pixels_across, seen_extent, views_needed
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; a count gives the rest."""

_LEAST_MARK_PIXELS = 10.0
"""Pixels across a fiducial, below which its centre is uncertain.

Source: common practice, no published source.
"""


class _Look(NamedTuple):
    """A recognition in use with its camera, which aims up, and its outlines."""

    name: str
    recognition: Recognition
    camera: Camera
    outlines: dict[str, Outline]


def _looks(facts: Facts) -> Iterator[_Look]:
    """Yield the recognitions that are in use, by name."""
    for name in sorted(facts.shop.recognitions, key=natural):
        recognition = facts.shop.recognitions[name]
        camera = facts.shop.cameras.get(recognition.camera)
        if camera is None or camera.aim != "up":
            continue
        used = sorted(facts.usage.outlines_of_recognition(name), key=natural)
        outlines = {key: facts.shop.outlines[key] for key in used if key in facts.shop.outlines}
        if outlines:
            yield _Look(name, recognition, camera, outlines)


def _without(what: str, key: str, cameras: dict[str, int]) -> Iterator[Unchecked]:
    """Yield what cameras without a value leave unchecked; `cameras` counts what it concerns."""
    if cameras:
        paths = tuple(("cameras", name, key) for name in sorted(cameras))
        named = listed([show(path[:2]) for path in paths])
        amount = sum(cameras.values())
        yield Unchecked(count(amount, what), f"no {key} on {named}", key, paths, amount)


class _Seen(NamedTuple):
    """Room that one outline takes in the picture, mm, and how many pictures it needs.

    `least` is how many it needs as it should be, without play, `fewest` at the best attitude;
    `turn` is the play in its pocket, degrees.
    """

    outline: str
    attitude: float
    box: tuple[float, float]
    views: int
    least: int
    fewest: int
    turn: float


def _field(camera: Camera) -> tuple[float, float] | None:
    """Return the field along the machine's x and y, mm; None if it is unknown."""
    if camera.resolution_px is None or camera.mm_per_pixel is None:
        return None
    columns, rows = camera.resolution_px
    field = field_of_view((columns, rows), (camera.mm_per_pixel.x, camera.mm_per_pixel.y))
    is_turned = camera.image is not None and camera.image.right[1] == "y"
    return field[::-1] if is_turned else field


def _attitudes(facts: Facts, outline: str, recognition: Recognition) -> list[float]:
    """Return how parts of an outline may be turned in the picture, degrees, without half turns."""
    if recognition.picture_attitude == "as-drawn":
        return [0.0]
    parts = facts.usage.parts_of_outline(outline)
    if recognition.picture_attitude == "as-placed":
        return sorted(_placed(facts, outline, parts))
    feeders = [facts.shop.feeders[f] for part in parts for f in facts.usage.feeders_of_part(part)]
    return sorted({feeder.pick.rotation % 180 for feeder in feeders if feeder.pick})


def _placed(facts: Facts, outline: str, parts: tuple[str, ...]) -> set[float]:
    """Return the attitudes in which a job places parts, degrees, without half turns."""
    found = set()
    for job, references in facts.usage.placements_of_parts(parts).items():
        frames = frames_of(facts.shop, job)
        placements = facts.shop.jobs[job].placements.by_reference
        for reference in references:
            angle = frames.board_angle(placements[reference], facts.shop.outlines[outline])
            if angle is not None:
                found.add(frames.target(angle) % 180)
    return found


def _seen(look: Inspection, entry: _Look, outline: str, field: tuple[float, float]) -> _Seen | None:
    """Return the attitude of an outline that needs the most pictures; None if none is known."""
    size = entry.outlines[outline].size_mm
    usage = look.facts.usage
    held = [
        name for part in usage.parts_of_outline(outline) for name in usage.feeders_of_part(part)
    ]
    turn = most_turn_deg(look.shop, held)
    worst: _Seen | None = None
    for attitude in _attitudes(look.facts, outline, entry.recognition):
        box = seen_extent(size, attitude, turn)
        views = views_needed(box, field, look.limits.field_margin_mm)
        least = views_needed(seen_extent(size, attitude, 0.0), field)
        if worst is None or views > worst.views:
            worst = _Seen(outline, attitude, box, views, least, 0, turn)
    if worst is None or worst.views <= entry.recognition.views:
        return worst
    turns = [views_needed(seen_extent(size, turn / 2, 0.0), field) for turn in range(360)]
    return worst._replace(fewest=min(turns))


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="shop.limits: {field_margin_mm: 3.9}",
    passes="shop.limits: {field_margin_mm: 3.8}",
)
def part_exceeds_field(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A part needs more pictures than its recognition takes.

    An error if it fits at no attitude, or not at the one that `picture_attitude` gives. Otherwise a
    warning: the part is taken as picked, turned by what its pocket and EIA-481 allow (at most
    limits.pocket_turn_deg) and off its centre by up to limits.field_margin_mm.

    On the machine: its ends are outside the picture, so its size and centre are wrong.

    To do: take more views, say how the part is turned in the picture, or correct size, scale or
    resolution.

    Source: field = resolution × scale, arithmetic; EIA-481-D Table 2 note 1 for the turn.
    """
    unknown: dict[str, dict[str, int]] = {"mm_per_pixel": {}, "resolution_px": {}}
    judged: dict[str, list[Problem | None]] = defaultdict(list)
    for entry in _looks(look.facts):
        field = _field(entry.camera)
        if field is None:
            key = "resolution_px" if entry.camera.mm_per_pixel else "mm_per_pixel"
            name = entry.recognition.camera
            unknown[key][name] = unknown[key].get(name, 0) + 1
            continue
        found = [_seen(look, entry, outline, field) for outline in entry.outlines]
        large = [seen for seen in found if seen and seen.views > entry.recognition.views]
        judged[entry.recognition.camera].append(_too_large(look, entry, field, large))
    for name, problems in judged.items():
        yield from _of_one_cause(look.facts, name, problems)
    for key, cameras in unknown.items():
        yield from _without("recognition against its field", key, cameras)


def _of_one_cause(facts: Facts, camera: str, judged: list[Problem | None]) -> Iterator[Problem]:
    """Yield the problems of a camera: one, of its field, if no recognition of several fits."""
    problems = [problem for problem in judged if problem]
    if len(problems) < 2 or len(problems) < len(judged):
        yield from problems
        return
    worst = next((entry for entry in problems if entry.level is Level.ERROR), problems[0])
    names = [entry.path[1] for entry in problems]
    yield worst._replace(
        path=("cameras", camera, "mm_per_pixel"),
        related=(
            ("cameras", camera, "resolution_px"),
            *(entry.path for entry in problems[:_MOST_SHOWN]),
        ),
        message=f"none of the {count(len(names), 'recognition')} of camera {camera} fits its "
        f"field: {listed(names)}.",
        consequence=f"{reach(facts, parts_reached(facts, names))} may be cut off at the edge of "
        "the picture.",
        remedy=("Correct the scale or the resolution of the camera, or take more views.",),
    )


def _too_large(
    look: Inspection, entry: _Look, field: tuple[float, float], large: list[_Seen]
) -> Problem | None:
    if not large:
        return None
    worst = max(large, key=lambda seen: (seen.fewest, seen.least, seen.views))
    limits, views = look.limits, entry.recognition.views
    attitude = entry.recognition.picture_attitude
    is_certain = worst.fewest > views or (attitude is not None and worst.least > views)
    parts = [part for seen in large for part in look.facts.usage.parts_of_outline(seen.outline)]
    names = [seen.outline for seen in large]
    said = attitude or "as-picked assumed"
    return Problem(
        path=("recognitions", entry.name, "views"),
        related=(
            *(("outlines", name, entry.outlines[name].size_field) for name in names[:_MOST_SHOWN]),
            ("cameras", entry.recognition.camera, "mm_per_pixel"),
        ),
        message=f"{listed(names)} {'needs' if len(names) == 1 else 'need'} "
        f"{count(worst.views, 'picture')} of camera {entry.recognition.camera}, but recognition "
        f"{entry.name} takes {views}.",
        observed=f"{worst.outline} up to {_size(worst.box)} mm at {number(worst.attitude)} degrees "
        f"({said}) with {number(round(worst.turn, 1))} of play, "
        f"{number(limits.field_margin_mm)} mm around it; field {_size(field)} mm",
        consequence=f"{reach(look.facts, parts)} "
        + (
            "do not fit into the picture."
            if is_certain
            else "may be cut off at the edge of the picture if turned or off their centre."
        ),
        remedy=(
            f"Take {worst.views} views, or correct size, scale or resolution."
            if attitude
            else f"Take {worst.views} views, write picture_attitude if the part is not turned as "
            "picked, or correct size, scale or resolution.",
        ),
        level=Level.ERROR if is_certain else None,
    )


def _size(lengths: tuple[float, float]) -> str:
    return f"{number(round(lengths[0], 2))} × {number(round(lengths[1], 2))}"


class _Feature(NamedTuple):
    """A feature that a picture must show: pixels it has and needs, its name and its path."""

    pixels: float
    least: float
    name: str
    path: Path


def _features(entry: _Look, coarse: float, least: float) -> Iterator[_Feature]:
    """Yield what a recognition must resolve: bodies, narrowest terminals, its tolerance."""
    if entry.recognition.tolerance_mm is not None:
        pixels = pixels_across(entry.recognition.tolerance_mm, coarse)
        path: Path = ("recognitions", entry.name, "tolerance_mm")
        yield _Feature(pixels, least, f"the tolerance of {entry.name}", path)
    for name, outline in entry.outlines.items():
        pixels, path = pixels_across(min(outline.body_mm), coarse), ("outlines", name, "body_mm")
        yield _Feature(pixels, least, f"the body of {name}", path)
        if outline.terminal_mm is not None:
            pixels = pixels_across(outline.terminal_mm, coarse)
            yield _Feature(pixels, least, f"a terminal of {name}", (*path[:2], "terminal_mm"))


def _marks(facts: Facts) -> Iterator[tuple[str, Camera, Path, Mark]]:
    """Yield each fiducial with the camera that looks for it: the home mark's, else the only one."""
    shop = facts.shop
    home = shop.machine.home_mark if shop.machine else None
    down = [name for name, camera in shop.cameras.items() if camera.aim == "down"]
    name = home.camera if home else down[0] if len(down) == 1 else ""
    camera = shop.cameras.get(name)
    if camera is None or camera.aim != "down":
        return
    if home:
        yield name, camera, ("home_mark",), home
    for sheet in sheets(facts):
        for mark in sheet.names:
            yield name, camera, sheet.mark_path(mark), sheet.marks[mark]


@rule(
    Level.WARNING,
    fails="recognitions.diode.tolerance_mm: 0.05",
    passes="recognitions.diode.tolerance_mm: 0.055",
)
def picture_too_coarse(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A body, a terminal, a tolerance or a fiducial covers fewer pixels than it needs.

    A feature needs limits.least_pixels, a fiducial 10.

    On the machine: parts are found by chance and good ones refused; fiducials are found beside
    their place.

    To do: bring the camera nearer, take a higher resolution, or correct the size or the scale.

    Source: two to three pixels across the smallest feature, machine-vision handbooks; 10 across a
    fiducial: common practice, no published source.
    """
    small: dict[str, list[_Feature]] = defaultdict(list)
    unknown: dict[str, int] = defaultdict(int)
    for camera, feature in _all_features(look):
        if feature is None:
            unknown[camera] += 1
        elif feature.pixels < feature.least - 1e-9:
            small[camera].append(feature)
    for camera, features in small.items():
        yield _coarse(camera, features)
    yield from _without("picture size of what is looked for", "mm_per_pixel", unknown)


def _all_features(look: Inspection) -> Iterator[tuple[str, _Feature | None]]:
    """Yield camera and feature; None for each recognition or fiducial without a scale."""
    for entry in _looks(look.facts):
        scale = entry.camera.mm_per_pixel
        if scale is None:
            yield entry.recognition.camera, None
            continue
        for feature in _features(entry, max(scale.x, scale.y), look.limits.least_pixels):
            yield entry.recognition.camera, feature
    for name, camera, path, mark in _marks(look.facts):
        scale = camera.mm_per_pixel
        if scale is None:
            yield name, None
            continue
        pixels = pixels_across(mark.diameter_mm, max(scale.x, scale.y))
        at = (*path, "diameter_mm")
        yield name, _Feature(pixels, _LEAST_MARK_PIXELS, show(path), at)


def _coarse(camera: str, features: list[_Feature]) -> Problem:
    scale: Path = ("cameras", camera, "mm_per_pixel")
    paths = [scale, *(feature.path for feature in features)]
    path, *others = paths if len(features) > 1 else paths[::-1]
    worst = min(features, key=lambda feature: feature.pixels / feature.least)
    more = f"; {len(features) - 1} more are too small" if features[1:] else ""
    shown = [f"{entry.name} {number(round(entry.pixels, 2))} px" for entry in features]
    is_terminal = any(at[-1] == "terminal_mm" for at in paths)
    return Problem(
        path=path,
        related=tuple(others[:_MOST_SHOWN]),
        message=f"{worst.name} covers {number(round(worst.pixels, 2))} px of camera {camera}; it "
        f"needs {number(worst.least)}{more}.",
        observed=listed(shown, _MOST_SHOWN),
        consequence="The picture may not resolve it: parts may be found by chance, or not at all.",
        remedy=("Bring the camera nearer or take a higher resolution, or correct the size.",),
        suppresses=(("nozzle-tip-unsuitable", ("spindles",)), ("fiducial-error-too-large", ()))
        if is_terminal
        else (),
    )


@rule(
    Level.WARNING,
    fails="""
        cameras.head.resolution_px: [640, 240]
        cameras.head.calibrated.resolution_px: [640, 240]
    """,
    passes="""
        cameras.head.resolution_px: [640, 250]
        cameras.head.calibrated.resolution_px: [640, 250]
    """,
)
def search_beyond_field(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The search radius of a fiducial is larger than what one picture shows around its place.

    On the machine: a fiducial that is farther off than the picture shows is not found, or is found
    cut off at the edge.

    To do: search less far, or correct the radius, the scale or the resolution.

    Source: the picture shows half its field to each side; radius plus half the diameter must fit,
    arithmetic.
    """
    unknown: dict[str, dict[str, int]] = {"mm_per_pixel": {}, "resolution_px": {}}
    wide: dict[str, list[tuple[Path, float, float]]] = defaultdict(list)
    for name, camera, path, mark in _marks(look.facts):
        field = _field(camera)
        if field is None:
            key = "resolution_px" if camera.mm_per_pixel else "mm_per_pixel"
            unknown[key][name] = unknown[key].get(name, 0) + 1
            continue
        radius, room = search_radius(look.facts, mark), (min(field) - mark.diameter_mm) / 2
        if radius > room + 1e-9:
            wide[name].append((path, radius, room))
    for name, marks in wide.items():
        yield _too_wide(look, name, marks)
    for key, cameras in unknown.items():
        yield from _without("search radius against the field", key, cameras)


def _too_wide(look: Inspection, name: str, marks: list[tuple[Path, float, float]]) -> Problem:
    path, radius, room = marks[0]
    places = [_radius_path(look.shop, entry[0]) for entry in marks]
    first, *others = dict.fromkeys(places)
    more = f"; {len(marks) - 1} more likewise" if marks[1:] else ""
    scale: Path = ("cameras", name, "mm_per_pixel")
    # a picture that hardly shows the fiducial itself is of a wrong scale
    paths = (first, *others[:_MOST_SHOWN], scale) if room > radius / 4 else (scale, first, *others)
    return Problem(
        path=paths[0],
        related=paths[1:],
        message=f"{show(path)} is searched within {number(radius)} mm, but camera {name} shows it "
        f"whole only within {number(round(max(room, 0.0), 2))} mm of its centre{more}.",
        observed=f"search radius {number(radius)} mm; field of {name} "
        f"{_size(_field(look.shop.cameras[name]) or (0.0, 0.0))} mm",
        consequence="If it is farther off, it is cut off or outside the picture.",
        remedy=(f"Set search_radius_mm to at most {number(int(room * 10) / 10)}.",)
        if paths[0] == first
        else ("Correct the scale or the resolution of the camera, or search less far.",),
    )


def _radius_path(shop: Shop, path: Path) -> Path:
    """Return where the search radius of a fiducial is written: its own, else the home mark's."""
    own = (*path, "search_radius_mm")
    return own if shop.plain_at(own) is not None else ("home_mark", "search_radius_mm")


@rule(
    Level.WARNING,
    fails="cameras.head.mm_per_pixel.at_z: -18.9",
    passes="cameras.head.mm_per_pixel.at_z: -19",
)
def scale_at_other_height(look: Inspection) -> Iterator[Problem]:
    """The scale of a camera was measured at another height than that of what it sees.

    A camera that aims up sees parts in its focal plane, one that aims down the bare board.

    On the machine: nearer things look larger, so each correction is too large or too small.

    To do: measure the scale at that height, or correct the height that is wrong.

    Source: size in the picture goes with 1 / (distance - focal length), thin-lens equation;
    limits.scale_height_mm (common practice, no published source).
    """
    machine = look.shop.machine
    if machine is None:
        return
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        scale = camera.mm_per_pixel
        if scale is None or scale.at_z is None:
            continue
        used = [
            (path, what, z)
            for path, what, z in _looked_at(look.shop, name, camera)
            if is_inside(machine.travel.z, z)
            and abs(z - scale.at_z) > look.limits.scale_height_mm + 1e-9
        ]
        if used:
            yield _other_height(look, name, scale.at_z, used)


def _looked_at(shop: Shop, name: str, camera: Camera) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, words, z in mm) of the planes that a camera sees."""
    if camera.aim == "up" and camera.position:
        yield ("cameras", name, "position", "z"), "its focal plane", camera.position.z
    if camera.aim == "down":
        for job in sorted(shop.jobs, key=natural):
            yield ("jobs", job, "seat", "z"), f"the board of {job}", shop.jobs[job].seat.z


def _other_height(
    look: Inspection, name: str, at_z: float, used: list[tuple[Path, str, float]]
) -> Problem:
    path: Path = ("cameras", name, "mm_per_pixel", "at_z")
    _, what, z = used[0]
    more = f" ({len(used) - 1} more like it)" if len(used) > 1 else ""
    places: list[Path] = [path, *(entry[0] for entry in used[:_MOST_SHOWN])]
    first = next((place for place in places if _differs(look, place)), path)
    return Problem(
        path=first,
        related=tuple(place for place in places if place != first),
        message=f"the scale of camera {name} was measured {number(round(abs(z - at_z), 3))} mm "
        f"{'below' if z > at_z else 'above'} {what}{more}.",
        observed=f"at_z {number(at_z)}, {what} {number(z)}",
        consequence="Nearer things look larger: each correction may be too large or too small.",
        remedy=("Measure the scale at that height, or correct the height that is wrong.",),
    )


def _differs(look: Inspection, path: Path) -> bool:
    """Return whether the last known-good shop has another value at a path."""
    good = look.good
    return good is not None and good.plain_at(path) not in (None, look.shop.plain_at(path))
