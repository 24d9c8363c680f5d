"""The report of `jobcheck where`: the chain step by step, and the three legs of polarity."""

from __future__ import annotations

import textwrap
from typing import Any

from jobcheck.commands.where import CAUTION, Where
from jobcheck.facts.chain import Chain, Take
from jobcheck.facts.frames import FoundMarks, Pose
from jobcheck.facts.polarity import Leg, Proof
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import WIDTH, amount, columns, paragraph
from jobcheck.reports.text.part_drawing import turned_part
from jobcheck.schema.job import Job

Row = tuple[str, ...]


_PROVES = {
    "pad1_at_zero": "find pad 1 of the footprint at 0, and write pad1_at_zero of outline "
    "{outline}.",
    "pad1_means": "find the terminal at pad 1 of the footprint, and write pad1_means of outline "
    "{outline}.",
    "pin1_at_zero": "find pin 1 of the outline at 0, and write pin1_at_zero of outline {outline}.",
    "zero": "compare list and outline at 0, and write zero on both.",
    "bottom_positions": "find how the list counts x on the bottom, and write bottom_positions.",
    "orientation_seen": "look at the reel, and write the day as reel.orientation_seen.",
    "pin1": "look at the tape, and write where pin 1 is.",
    "attitude": "look at the tray, and write tray.attitude.",
    "feed_direction": "write feed_direction of the feeder or of its row.",
    "pick": "measure the pick, and write it.",
    "part": "describe the part, and say which feeder holds it.",
}
"""The proof of a leg, by its missing key."""


def where_text(found: Where, call: Call, quiet: bool) -> list[str]:
    """Report the chain of one placement: a row a step, then head, height, the legs and pin 1."""
    chain = found.chain
    rows: list[Row] = [("step", "x", "y", "angle", "")]
    rows += [_step(*step) for step in _poses(found)]
    rows += [_taken(take, found) for take in chain.takes]
    lines = [_title(found), "", *_wrapped(rows), "", *_ends(found), "", *_legs(found)]
    if quiet:
        return lines
    return [*lines, "", *paragraph(CAUTION), *_to_prove(found, call)]


def _title(found: Where) -> str:
    chain = found.chain
    cell = f", cell {chain.cell.name}" if chain.cell.name else ""
    skipped = ", which is skipped" if chain.cell.is_skipped else ""
    left_out = "" if _is_fitted(found) else ", not fitted"
    return f"{chain.reference} of {chain.job}{cell}{skipped}: {chain.part or 'no part'}{left_out}"


def _is_fitted(found: Where) -> bool:
    chain = found.chain
    return found.shop.jobs[chain.job].placements.by_reference[chain.reference].fitted


def _wrapped(rows: list[Row]) -> list[str]:
    """Lay rows out in columns; the last one is wrapped below itself."""
    free = WIDTH - max(map(len, columns([(*row[:-1], "|") for row in rows]))) + 1
    lines: list[Row] = []
    for row in rows:
        first, *more = textwrap.wrap(row[-1], free, break_on_hyphens=False) or [""]
        lines += [(*row[:-1], first), *((*[""] * (len(row) - 1), text) for text in more)]
    return columns(lines)


def _step(name: str, pose: Pose, says: str) -> Row:
    return name, _number(pose.x), _number(pose.y), _number(pose.angle), says


def _poses(found: Where) -> list[tuple[str, Pose, str]]:
    chain, job = found.chain, found.shop.jobs[found.chain.job]
    seat, file = job.seat, found.place.file.rpartition("/")[2]
    steps = [
        (
            "list",
            chain.listed,
            f"line {found.place.line} of {file}, {_listed(job)}{_origin(job)}",
        ),
        ("board", chain.board, _board(found)),
    ]
    if job.panel is not None or job.side == "bottom":
        steps.append(("panel", chain.panel, _panel(found)))
    at = f"at {_number(seat.x)}, {_number(seat.y)}, turned by {_number(seat.rotation)}"
    steps.append(("seat", chain.seat, at))
    steps.append(("marks", chain.machine, _marks(chain.found)))
    return steps


def _listed(job: Job) -> str:
    """Return how the list counts positions; assumptions are named."""
    if job.side == "top":
        return "seen from the top"
    positions = job.placements.bottom_positions
    if positions is None:
        return "taken as seen through the top: no bottom_positions"
    return {
        "through-top": "seen through the top",
        "as-placed": "as placed, x from the right edge seen from the top",
        "x-negated": "seen through the top, x negated",
    }[positions]


def _origin(job: Job) -> str:
    x, y = job.placements.origin_mm
    return f"; moved by its origin at {_number(x)}, {_number(y)}" if x or y else ""


def _board(found: Where) -> str:
    chain, job = found.chain, found.shop.jobs[found.chain.job]
    drawn = _drawn(found)
    if chain.is_zero_assumed:
        level = "no zero level declared, taken as drawn alike"
    elif chain.zero_offset is None:
        missing = "list" if job.placements.zero is None else "outline"
        level = f"angle unknown: no zero level on the {missing}"
    else:
        turn = f": turned by {_number(chain.zero_offset)}" if chain.zero_offset else ""
        level = (
            f"list at level {job.placements.zero}, outline at {drawn and f'level {drawn}'}{turn}"
        )
    if job.side == "top":
        return level
    return f"seen from the bottom, {job.placements.bottom or 'bottom missing'}; {level}"


def _drawn(found: Where) -> str | None:
    return found.shop.outlines[found.chain.outline].zero if found.chain.outline else None


def _panel(found: Where) -> str:
    cell, job = found.chain.cell, found.shop.jobs[found.chain.job]
    words = []
    if cell.name:
        corner = f"corner {_number(cell.corner[0])}, {_number(cell.corner[1])}"
        words.append(f"cell {cell.name}, {corner}{', half-turned' * cell.is_half_turned}")
    if job.side == "bottom":
        words.append("turned over left to right")
    return "; ".join(words)


def _marks(found: FoundMarks) -> str:
    unknown = f"; not described: {', '.join(found.unknown)}" if found.unknown else ""
    if not found.names:
        return "none measured" + unknown
    number = amount(len(found.names), "mark")
    if found.is_mirrored:
        return f"{number} measured, mirrored: not used" + unknown
    if found.fit is None:
        return f"{number} measured, too few: not used" + unknown
    rest = _rest(found)
    return f"{number} measured, {found.fit.kind}, turned by {found.turn:.3f}; {rest}{unknown}"


def _rest(found: FoundMarks) -> str:
    """Return the residual of the fiducials; without a spare fiducial it is never called 0."""
    worst = found.fit.worst_mm if found.fit else None
    if found.distance_error_mm is not None:
        return f"their distance is {_signed(found.distance_error_mm)} mm off"
    return "nothing to spare" if worst is None else f"worst residual {worst:.3f} mm"


def _taken(take: Take, found: Where) -> Row:
    pick = found.shop.feeders[take.feeder].pick
    x, y = (pick.x, pick.y) if pick else (None, None)
    turn = "unknown" if take.turn is None else f"turn by {_number(take.turn)} to place"
    return "pick", _number(x), _number(y), _number(take.attitude), f"{take.feeder}; {turn}"


def _ends(found: Where) -> list[str]:
    chain, job = found.chain, found.shop.jobs[found.chain.job]
    rows = []
    if chain.head is not None:
        x, y = map(_number, chain.head)
        rows.append(("Head", f"x {x}, y {y} with spindle {chain.spindle}"))
    height = "unknown: the height of the part is missing"
    if chain.height is not None:
        height = f"z {_number(chain.height)} where it lets go; the seat is at {_number(job.seat.z)}"
    return columns([*rows, ("Nozzle", height)])


def _is_polarised(found: Where) -> bool:
    outline = found.shop.outlines.get(found.chain.outline or "")
    return outline is None or outline.polarised


def _legs(found: Where) -> list[str]:
    if not _is_polarised(found):
        return ["Polarity: the part is not polarised."]
    chain, legs = found.chain, found.chain.legs
    because = f", because of the {legs.weakest}" if legs.verdict is not Proof.PROVEN else ""
    feeds = [(take.leg, f"{take.feeder}: " * (len(chain.takes) > 1)) for take in chain.takes]
    named = [("drawing", legs.drawing, ""), ("listing", legs.listing, "")]
    named += [("feed", leg, prefix) for leg, prefix in feeds or [(legs.feed, "")]]
    rows: list[Row] = [(name, leg.proof.value, prefix + leg.why) for name, leg, prefix in named]
    return [f"Polarity: {legs.verdict.value}{because}", *_wrapped(rows), *_pin1(chain)]


def _pin1(chain: Chain) -> list[str]:
    if chain.pin1_faces is None:
        return ["  Where pin 1 faces in the machine is unknown."]
    angle = _number(chain.pin1_faces)
    turn = chain.takes[0].turn if chain.takes else None
    before = None if turn is None else chain.pin1_faces - turn
    return [
        f"  Pin 1 faces {angle} in the machine; 0 is right, 90 is away from you.",
        "",
        *(f"  {line}" for line in turned_part(before, chain.pin1_faces)),
    ]


def _to_prove(found: Where, call: Call) -> list[str]:
    """Return the proof for the weakest leg: a command if there is one."""
    chain = found.chain
    leg: Leg = getattr(chain.legs, chain.legs.weakest)
    if not _is_polarised(found) or leg.proof is Proof.PROVEN:
        return []
    if chain.legs.weakest == "listing" and leg.lacks == "pin1_checked":
        says = f"To prove it, compare pin 1 of {chain.reference} with the board's drawing, then"
        proof = command("checked", chain.job, chain.reference, "--write")
        return ["", *paragraph(says), f"  {call.typed(proof)}"]
    if leg.lacks not in _PROVES:
        return ["", *paragraph("Look at the part, and correct the value that is wrong.")]
    return ["", *paragraph(f"To prove it, {_PROVES[leg.lacks].format(outline=chain.outline)}")]


def _number(value: float | None) -> str:
    """Write to a micrometre or a thousandth of a degree, without needless digits."""
    if value is None:
        return "unknown"
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def _signed(value: float) -> str:
    return f"{value:+.3f}"


def where_data(found: Where) -> dict[str, Any]:
    """Return the chain as JSON data; angles in degrees, lengths in mm, null unknown."""
    chain = found.chain
    steps = {name: _pose_data(pose) for name, pose, _ in _poses(found)}
    steps["panel"] = _pose_data(chain.panel)
    return {
        "job": chain.job,
        "reference": chain.reference,
        "part": chain.part,
        "outline": chain.outline,
        "cell": chain.cell.name or None,
        "skipped": chain.cell.is_skipped,
        "fitted": _is_fitted(found),
        "spindle": chain.spindle,
        "zero_offset": chain.zero_offset,
        "steps": steps,
        "marks": _marks_data(chain.found),
        "pin1_faces": chain.pin1_faces,
        "nozzle_z": None if chain.height is None else round(chain.height, 6),
        "head": [round(value, 6) for value in chain.head] if chain.head else None,
        "feeders": [_take_data(take) for take in chain.takes],
        "polarised": _is_polarised(found),
        "polarity": chain.legs.verdict.value if _is_polarised(found) else None,
        "legs": {name: _leg_data(leg) for name, leg in chain.legs._asdict().items()},
        "caution": CAUTION,
    }


def _pose_data(pose: Pose) -> dict[str, float | None]:
    angle = None if pose.angle is None else round(pose.angle, 6)
    return {"x": round(pose.x, 6), "y": round(pose.y, 6), "angle": angle}


def _marks_data(found: FoundMarks) -> dict[str, Any]:
    return {
        "measured": list(found.names),
        "not_described": list(found.unknown),
        "fit": found.fit.kind if found.fit else None,
        "turn": found.fit.rotation if found.fit else None,
        "distance_error_mm": found.distance_error_mm,
        "worst_residual_mm": found.fit.worst_mm if found.fit else None,
        "mirrored": found.is_mirrored,
    }


def _take_data(take: Take) -> dict[str, Any]:
    return {
        "feeder": take.feeder,
        "attitude": take.attitude,
        "turn": take.turn,
        "leg": _leg_data(take.leg),
    }


def _leg_data(leg: Leg) -> dict[str, Any]:
    return {"proof": leg.proof.value, "why": leg.why, "off": leg.off, "lacks": leg.lacks or None}
