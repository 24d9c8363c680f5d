"""The report of `jobcheck` without a command."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.overview import CameraState, Overview
from jobcheck.facts.pace import Pace
from jobcheck.facts.proof import Proofs, Standing
from jobcheck.findings import Command, Level, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.findings import unchecked_count
from jobcheck.reports.text.layout import amount, paragraph, proposed
from jobcheck.shop.paths import show
from jobcheck.wording import duration

_LABEL = 15
_MOST_PACES = 3


def overview_text(overview: Overview, call: Call) -> list[str]:
    """Report the state of a shop and the next useful command."""
    lines = paragraph(_head(overview))
    lines.append("")
    for label, text in _rows(overview):
        lines += paragraph(text, " " * _LABEL, f"  {label:<{_LABEL - 2}}")
    return [*lines, *proposed("Next", call.typed(_next(overview)))]


def _head(overview: Overview) -> str:
    shop = overview.shop
    name = overview.linted.reading.state.name
    if shop is None:
        return f"{name}: shop.yaml is not understood."
    counts = (
        amount(len(shop.jobs), "job"),
        amount(len(shop.feeders), "feeder"),
        amount(len(shop.parts), "part"),
        amount(len(shop.cameras), "camera"),
    )
    return f"{name}: {', '.join(counts)}"


def _rows(overview: Overview) -> list[tuple[str, str]]:
    linted = overview.linted
    counted = [amount(n, level.value) for level in Level if (n := linted.counted(level))]
    rows = [("Findings", ", ".join(counted) or "none")]
    if linted.not_checked:
        rows.append(("Not checked", f"{unchecked_count(linted)}; lint --unchecked lists them"))
    title = linted.known_good.title
    values = sum(1 for change in overview.changes for _ in change.leaves())
    since = f"{amount(values, 'value')} changed since" if values else "nothing changed since"
    none = "every record is withdrawn" if linted.known_good.is_withdrawn else "no record yet"
    rows.append(("Known-good", f"{title}; {since}" if title else none))
    if overview.records:
        rows.append(("Records", f"{overview.records:,}, {_damaged(overview.damaged)}"))
    if overview.controller is not None:
        rows.append(("Controller", _controller(overview)))
    if overview.cameras:
        rows.append(
            ("Cameras", "; ".join(_camera(one, overview, bool(title)) for one in overview.cameras))
        )
    rows += [("Proof", _proof(job, proofs)) for job, proofs in overview.proofs]
    rows += [("Pace", _pace(job, estimate)) for job, estimate in overview.paces[:_MOST_PACES]]
    if overview.hooks is not None:
        states = (f"{name} {'' if on else 'not '}installed" for name, on in overview.hooks.items())
        rows.append(("Hook", ", ".join(states)))
    return rows


def _controller(overview: Overview) -> str:
    state = overview.controller
    if state is None:
        return ""
    parts = []
    if state.differing:
        where = {" ".join(path[:2]).replace("cameras", "camera") for path in state.differing}
        of = f" of {where.pop()}" if len(where) == 1 else ""
        parts.append(f"differs: {amount(len(state.differing), 'value')}{of}")
        parts += ["the controller's file is newer"] if state.is_newer else []
    if overview.uncompared:
        faults = amount(overview.uncompared, "fault")
        parts.append(f"not all compared: {faults} in the description or these files")
    if state.absent:
        parts.append(state.absent.partition(";")[0])
    if parts:
        return "; ".join(parts)
    number = amount(state.changed, "value")
    both = f"; both differ from the record in {number}" if state.changed else ""
    return f"agrees with the description{both}"


def _proof(job: str, proofs: Proofs) -> str:
    proven = len(proofs.of(Standing.PROVEN))
    parts, last = amount(len(proofs.parts), "part"), proofs.last_trial
    return f"{job}: {proven} of {parts} proven, last trial {last}"


def _damaged(number: int) -> str:
    return f"{number:,} damaged" if number else "whole"


def _pace(job: str, pace: Pace) -> str:
    """Say how long a panel and its run take, with what was assumed in the same line."""
    return (
        f"{job}: {duration(pace.panel_s)} a panel, {duration(pace.run_s)} for {pace.panels}; "
        f"estimate, assuming {', '.join(pace.assumed)}"
    )


def _camera(camera: CameraState, overview: Overview, has_record: bool) -> str:
    """Say how a camera is: as recorded only if description and controller both are."""
    controller = overview.controller
    here = ("cameras", camera.name)
    differing = sum(path[:2] == here for path in controller.differing) if controller else 0
    if camera.lost:
        state = f"{camera.name} lost {amount(camera.lost, 'setting')}"
    elif camera.changed:
        state = f"{camera.name} has {amount(camera.changed, 'value')} changed"
    elif differing:
        state = f"{camera.name} has {amount(differing, 'value')} otherwise in the controller"
    elif has_record:
        is_alone = controller is not None and controller.absent
        state = f"{camera.name} {'described ' if is_alone else ''}as recorded"
    else:
        state = camera.name
    if camera.seen is None:
        return f"{state}, not seen"
    if not camera.is_seen_since:
        return f"{state}, not seen since it was touched"
    return f"{state}, seen {'today' if camera.is_seen_today else camera.seen.isoformat()}"


def _next(overview: Overview) -> Command:
    linted = overview.linted
    if linted.put_back:
        return linted.put_back[0]
    if overview.lost:
        return command("restore", show(overview.lost[0].path[:2]))
    if linted.open:
        return command("lint")
    if not linted.known_good.title:
        return command("keep", "--label", "TEXT")
    return command("diff") if overview.changes else command("history")


def overview_data(overview: Overview) -> dict[str, Any]:
    """Return the state of a shop as JSON data."""
    linted = overview.linted
    return {
        "shop": linted.reading.state.name,
        "findings": {level.value: linted.counted(level) for level in Level},
        "not_checked": len(linted.not_checked),
        "known_good": linted.known_good.title or None,
        "changes": len(overview.changes),
        "cameras": [
            {
                "camera": camera.name,
                "lost": camera.lost,
                "changed": camera.changed,
                "seen": camera.seen.isoformat() if camera.seen else None,
            }
            for camera in overview.cameras
        ],
        "pace": [
            {
                "job": job,
                "panel_s": round(estimate.panel_s),
                "run_s": round(estimate.run_s),
                "panels": estimate.panels,
                "nozzle_changes": estimate.changes,
                "assumed": list(estimate.assumed),
            }
            for job, estimate in overview.paces
        ],
        "records": overview.records,
        "damaged": overview.damaged,
        "controller": overview.controller
        and {
            "differing": [show(path) for path in overview.controller.differing],
            "newer": overview.controller.is_newer,
            "not_compared": overview.controller.absent or None,
        },
        "hook": dict(overview.hooks) if overview.hooks is not None else None,
    }
