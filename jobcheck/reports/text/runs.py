"""Before and after a run: proof, preflight, trials and bookings, as text and as data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobcheck.commands.preflight import CAUTION, Preflight, changed, weighty
from jobcheck.commands.proof import JobProof
from jobcheck.commands.trial import AddedTrial
from jobcheck.commands.used import Used
from jobcheck.facts.proof import Standing
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import columns, paragraph, proposed
from jobcheck.reports.text.proposals import preview
from jobcheck.shop.paths import natural
from jobcheck.trade.shared_shifts import SharedShift
from jobcheck.wording import count, duration, listed, number

PROOF_CAUTION = (
    "Proven: a trial went well and nothing described has changed since. A knocked lens, a worn "
    "nozzle or another reel cannot be seen here."
)
_AXES = {"x_mm": ("along x", "mm"), "y_mm": ("along y", "mm"), "turn_deg": ("turned", "degrees")}


def proof_text(jobs: Iterable[JobProof], call: Call, quiet: bool = False) -> list[str]:
    """Show what is proven, lost and never tried, and the rehearsal that proves the rest."""
    lines: list[str] = []
    for job in jobs:
        lines += ["", *_job_proof(job)] if lines else _job_proof(job)
        if job.proofs.rehearsal:
            trial = command("trial", job.job, "--kind", "first-article")
            lines += proposed("After the rehearsal, write down what was seen", call.typed(trial))
    return lines if quiet else [*lines, "", *paragraph(PROOF_CAUTION)]


def _job_proof(job: JobProof) -> list[str]:
    proofs = job.proofs
    proven = proofs.of(Standing.PROVEN)
    lines = [f"{job.job}: {len(proven)} of {count(len(proofs.parts), 'part')} proven"]
    rows: list[tuple[str, ...]] = []
    if proven:
        rows.append(("proven", count(len(proven), "part"), _kinds(job)))
    rows += [
        ("failed", one.part, f"{one.result} in its last trial, {one.reference}")
        for one in proofs.of(Standing.FAILED)
    ]
    rows += [("lost", one.proof.part, changed(one)) for one in job.lost]
    never = [one.part for one in proofs.of(Standing.NEVER)]
    if never:
        rows.append(("never", count(len(never), "part"), listed(never, 3)))
    lines += [line for row in rows for line in _row(row)]
    of_all = f"{job.polarised - len(job.unproven)} of {job.polarised}"
    rest = f": not {listed(list(job.unproven), 4)}" if job.unproven else ""
    lines += paragraph(f"Polarity proven of {of_all} placements{rest}.")
    for axis, found in job.shifts.items():
        lines += [line for shift in found for line in paragraph(_shift(axis, shift))]
    rehearsal = proofs.rehearsal
    if rehearsal:
        text = f"Shortest rehearsal that proves the rest: {count(len(rehearsal), 'placement')}, "
        lines += paragraph(text + listed(list(rehearsal), 12))
    return lines


def _row(row: tuple[str, ...]) -> list[str]:
    first, *more = paragraph(f"{row[0]:<8}{row[1]}  {row[2]}", " " * 10, "  ")
    return [first, *more]


def _kinds(job: JobProof) -> str:
    newest: dict[str, Any] = {}
    for part in job.proofs.of(Standing.PROVEN):
        for kind, day in part.kinds.items():
            newest[kind] = max(day, newest.get(kind, day))
    return ", ".join(f"{kind.replace('-', ' ')} {day}" for kind, day in newest.items())


def _shift(axis: str, found: SharedShift) -> str:
    way, unit = _AXES[axis]
    size = f"{number(round(found.shift, 3))} {unit} +-{number(round(found.reach, 3))}"
    causes = " or ".join(found.causes)
    alike = ": the trials cannot tell them apart" if len(found.causes) > 1 else ""
    return f"Shared shift {way}, {size} (95 %), {found.placements} placements of {causes}{alike}."


def proof_data(jobs: Iterable[JobProof]) -> list[dict[str, Any]]:
    """Return the proofs for programs."""
    return [_proof_data(job) for job in jobs]


def _proof_data(job: JobProof) -> dict[str, Any]:
    lost = {one.proof.part: one for one in job.lost}
    return {
        "job": job.job,
        "parts": [
            {
                "part": one.part,
                "standing": one.standing.value,
                "kinds": {kind: day.isoformat() for kind, day in one.kinds.items()},
                "lost_to": list(one.lost_to),
                "changed": [list(change) for change in lost[one.part].values]
                if one.part in lost
                else [],
                "result": one.result or None,
            }
            for one in job.proofs.parts
        ],
        "polarity_unproven": list(job.unproven),
        "rehearsal": list(job.proofs.rehearsal),
        "shared_shifts": {
            axis: [one._asdict() for one in found] for axis, found in job.shifts.items()
        },
        "caution": PROOF_CAUTION,
    }


def preflight_text(found: Preflight, call: Call) -> list[str]:
    """Show the verdict first, then the reasons, then what only eyes can confirm."""
    kind = found.kind.replace("-", " ")
    if found.is_go:
        lines = [f"GO for {kind}: no check found a reason against it"]
        lines += [f"  {line}" for line in paragraph(_proven(found))]
    else:
        lines = [f"NO GO for {kind}"]
    for at, reason in enumerate(found.reasons, 1):
        first, *more = paragraph(reason.text, "     ", f"  {at}  ")
        lines += [first, *more, f"     {call.typed(reason.command)}"]
    lines.append("")
    for text in (_eyes(found), _accepted(found), *_known(found)):
        lines += paragraph(text, "  ", "")
    return [*lines, "", *paragraph(CAUTION)]


def _proven(found: Preflight) -> str:
    proof = found.proof
    last = proof.proofs.last_trial
    when = f"Proven by trials up to {last}" if last else "Proven"
    parts = len(proof.proofs.of(Standing.PROVEN))
    legs = proof.polarised - len(proof.unproven)
    return (
        f"{when}: {parts} of {len(proof.proofs.parts)} parts, polarity of {legs} of "
        f"{proof.polarised} placements"
    )


def _eyes(found: Preflight) -> str:
    """Say what no file shows: the reels in the feeders, the nozzles on the spindles."""
    feeders = {load.feeder for one in found.supplies for load in one.loads}
    feeders |= {name for one in found.supplies for name in one.uncounted}
    ordered = sorted(feeders, key=natural)
    reels = f"the reels in {listed(ordered, 4)}" if ordered else "the reels"
    spindles = found.shop.machine.spindles if found.shop.machine else {}
    return f"Only eyes can confirm: {reels}, the nozzles on spindles {listed(list(spindles))}"


def _accepted(found: Preflight) -> str:
    by_word = weighty(found.accepted)
    rules = [f"{word}: {listed(list(names))}" for word, names in by_word.items() if names]
    what = "Accepted findings about polarity, heights, collisions"
    return f"{what}: {'; '.join(rules) or 'none'}"


def _known(found: Preflight) -> list[str]:
    lines = []
    ends = [(one.stops_in, one.part) for one in found.supplies if one.stops_in is not None]
    if ends:
        lines.append(f"Reels end: {listed([f'{p} in panel {n}' for n, p in sorted(ends)], 4)}")
    if found.skipped:
        lines.append(f"Skipped cells: {found.skipped}")
    if found.pace is not None:
        lines.append(
            f"Time of {count(found.panels, 'panel')}: about {duration(found.pace.run_s)} (estimate)"
        )
    if found.changes:
        values = count(found.changes, "setting or measurement", "settings or measurements")
        lines.append(f"Since the last record changed: {values}; jobcheck diff shows them")
    missing = [f"{one.concerns}" for one in found.linted.not_checked]
    lines.append(f"Not checked: {listed(missing, 4) or 'nothing'}")
    return lines


def preflight_data(found: Preflight, call: Call) -> dict[str, Any]:
    """Return the verdict for programs."""
    return {
        "job": found.job,
        "for": found.kind,
        "panels": found.panels,
        "go": found.is_go,
        "reasons": [
            {"text": one.text, "command": call.typed(one.command)} for one in found.reasons
        ],
        "accepted": {word: list(rules) for word, rules in weighty(found.accepted).items()},
        "reels_end": {one.part: one.stops_in for one in found.supplies if one.stops_in},
        "skipped_cells": found.skipped,
        "run_s": found.pace and round(found.pace.run_s),
        "changed": found.changes,
        "not_checked": [one.concerns for one in found.linted.not_checked],
        "caution": CAUTION,
    }


def trial_text(added: AddedTrial, call: Call) -> list[str]:
    """Say what was added, and what comes next."""
    results = ", ".join(f"{number} {result}" for result, number in added.results.items())
    lines = [f"Added {added.file}: {results}."]
    if added.results.keys() == {"not-seen"}:
        lines += paragraph(
            "Write what was seen into it: the result of each placement. Leave `under` as it is: it "
            "says what the parts were placed with."
        )
    return [*lines, *proposed("Next", call.typed(command("proof", added.job)))]


def used_text(found: Used, call: Call, words: list[str]) -> list[str]:
    """Show the counts before and after, and what could not be counted."""
    booking = found.booking
    name = found.file.rpartition("/")[2].removesuffix(".yaml")
    if found.is_booked:
        return [f"Run {name} is booked already, on {booking.date}. Nothing was changed."]
    done = "Booked" if found.proposal.written else "Preview of"
    lines = [f"{done} run {name}: {booking.panels} panels of {booking.job}."]
    rows = [
        (feeder, f"{t.before}", "becomes", f"{t.after}") for feeder, t in booking.feeders.items()
    ]
    lines += ["", *columns([*map(tuple, rows)])] if rows else []
    if found.short:
        lines += [
            "",
            *paragraph(f"Fewer parts were counted than used: {listed(list(found.short))}."),
        ]
    if found.uncounted:
        lines += ["", *paragraph(f"Not counted, no remaining: {listed(list(found.uncounted))}.")]
    if found.proposal.written:
        return [*lines, "", f"Written and read back: {found.file} and the counts."]
    lines += preview(found.proposal, call)
    return [*lines, *proposed("To book it", call.typed(command("used", *words, "--write")))]


def used_data(found: Used) -> dict[str, Any]:
    """Return a booking for programs."""
    return {
        "run": found.file,
        "booked_before": found.is_booked,
        "written": found.proposal.written,
        "not_counted": list(found.uncounted),
        "short": list(found.short),
        **found.booking.model_dump(mode="json"),
    }
