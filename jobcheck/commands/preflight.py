"""Go or no-go before a run: what every other check says, weightiest first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.diff import diff
from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.commands.proof import JobProof, Lost, job_proof
from jobcheck.commands.used import with_panels
from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from jobcheck.facts.polarity import Proof
from jobcheck.facts.proof import Standing
from jobcheck.facts.supply import Supply, supplies
from jobcheck.findings import CallRefused, Command, Finding, Level, command
from jobcheck.rules.boards import bodies
from jobcheck.rules.motion import fixtures, heights, traverse
from jobcheck.rules.parts import heights as part_heights
from jobcheck.rules.polarity import RULES as POLARITY
from jobcheck.rules.registry import RULES
from jobcheck.schema.fields import FieldClass
from jobcheck.schema.trial import TrialKind
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import require_job
from jobcheck.sources.state.state import folder_state
from jobcheck.wording import count, listed

CAUTION = (
    "Before you start: hands and tools out of the travel, guards on, emergency stop in reach, "
    "first board slow. jobcheck has read files, not the machine, and is no interlock. The maker's "
    "manual, local codes and licensed practice come first."
)

_STOPPING_WARNINGS = (
    "recognition-tuning-stale",
    "capability-low",
    "run-exceeds-life",
)
"""Warnings that let half-done work be committed, but stop a run with paste."""


class Reason(NamedTuple):
    """A reason against the run, and the command that leads on."""

    text: str
    command: Command


class Preflight(NamedTuple):
    """The verdict on a run of a job, and what a person should know beside it.

    `changes` are settings and measurements that differ from the last record.
    """

    shop: Shop
    job: str
    kind: TrialKind
    panels: int
    reasons: tuple[Reason, ...]
    proof: JobProof
    supplies: tuple[Supply, ...]
    pace: Pace | None
    skipped: int
    changes: int
    accepted: tuple[Finding, ...]
    linted: LintedShop

    @property
    def is_go(self) -> bool:
        """Whether no check found a reason against the run."""
        return not self.reasons


def preflight(
    root: FilePath,
    job: str,
    kind: TrialKind,
    panels: int | None,
    today: date,
    folder: FilePath | None = None,
) -> Preflight:
    """Judge a run of a job of a kind; `panels` instead of those planned.

    Raises:
        CallRefused: the job does not exist, or the shop cannot be understood at all.
    """
    linted = lint_state(root, folder_state(root), RULES, today, folder=folder)
    shop = linted.reading.shop
    if shop is None:
        raise CallRefused("shop.yaml cannot be understood. To see why:", command("lint"))
    if not linted.reading.faults or job in shop.drafts:
        require_job(shop, job)
    if job not in shop.jobs:
        raise CallRefused(f"Job {job} cannot be understood. To see why:", command("lint"))
    shop = with_panels(shop, job, panels)
    good = linted.known_good.shop()
    facts = Facts(shop)
    proof = job_proof(facts, Facts(good) if good else None, job)
    run, panel = shop.jobs[job].run, shop.jobs[job].panel
    changes = [c for c in diff(good, shop) if c.field_class in _WEIGHS] if good else []
    return Preflight(
        shop,
        job,
        kind,
        panels or (run.panels if run else 1),
        tuple(_reasons(linted, facts, proof, job, kind, today)),
        proof,
        tuple(supplies(facts, job)),
        pace(facts, job),
        len(panel.skip) if panel else 0,
        len(changes),
        linted.accepted,
        linted,
    )


_WEIGHS = (FieldClass.SETTING, FieldClass.MEASUREMENT)


def _reasons(
    linted: LintedShop, facts: Facts, proof: JobProof, job: str, kind: TrialKind, today: date
) -> Iterator[Reason]:
    """Yield the reasons against a run, the weightiest first."""
    errors = [one for one in linted.open if one.level is Level.ERROR]
    for error in errors[:3]:
        yield Reason(error.message, _first_command(error))
    if len(errors) > 3:
        yield Reason(f"{count(len(errors) - 3, 'more error')}", command("lint"))
    yield from _polarity(facts, job, kind)
    yield from _cameras(facts, job, today)
    yield from _warnings(linted, kind)
    if kind == "paste":
        yield from _proofs(proof)


def _first_command(error: Finding) -> Command:
    return next((step for step in error.remedy if isinstance(step, Command)), command("lint"))


def _polarity(facts: Facts, job: str, kind: TrialKind) -> Iterator[Reason]:
    """Tape needs no contradicted leg, a first article no unknown one, paste needs all proven."""
    legs = {ref: facts.polarity.legs(job, ref) for ref, _ in facts.polarity.polarised(job)}
    against = {
        "tape": (Proof.CONTRADICTED,),
        "first-article": (Proof.CONTRADICTED, Proof.UNKNOWN),
        "paste": (Proof.CONTRADICTED, Proof.UNKNOWN, Proof.DECLARED),
    }[kind]
    for verdict in against:
        found = sorted((ref for ref, leg in legs.items() if leg.verdict is verdict), key=natural)
        if not found:
            continue
        weakest = legs[found[0]]
        leg = getattr(weakest, weakest.weakest)
        more = f" and of {len(found) - 1} more" if len(found) > 1 else ""
        word = "only declared" if verdict is Proof.DECLARED else verdict.value
        yield Reason(
            f"Polarity of {found[0]}{more} is {word}, {weakest.weakest} leg: {leg.why}",
            command("where", found[0], "--job", job) if len(found) == 1 else command("proof", job),
        )


def _cameras(facts: Facts, job: str, today: date) -> Iterator[Reason]:
    """Yield the cameras of the job that were not seen on the day of the run."""
    shop = facts.shop
    parts = facts.usage.placements_by_part.get(job, {})
    outlines = (shop.outline_of(part) for part in parts)
    names = {o.recognition for o in outlines if o and o.recognition}
    used = {shop.recognitions[name].camera for name in names if name in shop.recognitions}
    used |= {name for name, camera in shop.cameras.items() if camera.aim == "down"}
    for name in sorted(used & shop.cameras.keys(), key=natural):
        if shop.cameras[name].seen != today:
            last = shop.cameras[name].seen
            when = f", last on {last}" if last else ""
            yield Reason(
                f"Camera {name} was not seen today{when}", command("seen", name, "--write")
            )


def _warnings(linted: LintedShop, kind: TrialKind) -> Iterator[Reason]:
    for one in linted.open:
        is_stale = one.rule == "recognition-tuning-stale"
        if one.rule in _STOPPING_WARNINGS and (is_stale or kind == "paste"):
            yield Reason(one.message, _first_command(one))


def _proofs(proof: JobProof) -> Iterator[Reason]:
    proofs = proof.proofs
    trial = command("trial", proof.job, "--kind", "first-article")
    for failed in proofs.of(Standing.FAILED):
        yield Reason(f"{failed.part} was {failed.result} in its last trial", trial)
    for lost in proof.lost:
        yield Reason(f"{lost.proof.part} lost its proof: {changed(lost)}", trial)
    never = [part.part for part in proofs.of(Standing.NEVER)]
    if never:
        yield Reason(f"{_parts(never)} not proven by any trial", trial)
    on_tape = [p.part for p in proofs.of(Standing.PROVEN) if not p.is_proven_for_paste]
    if on_tape:
        yield Reason(f"{_parts(on_tape)} proven on tape only: not height and release", trial)


def _parts(names: list[str]) -> str:
    return f"{listed(names, 3)} {'is' if len(names) == 1 else 'are'}"


def changed(lost: Lost) -> str:
    """Write what a proof was lost to: values where the record has the old ones."""
    if not lost.values:
        return f"{listed(list(lost.dependencies))} changed since the trial"
    parts = [f"{name} {_value(old)} became {_value(new)}" for name, old, new in lost.values]
    return listed(parts, 3)


def _value(value: object) -> str:
    return "missing" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def weighty(accepted: Iterable[Finding]) -> dict[str, tuple[str, ...]]:
    """Return the accepted findings about polarity, heights and collisions, by these words."""
    modules = {
        "heights": (part_heights, heights, traverse),
        "collisions": (bodies, fixtures),
    }
    areas = {"polarity": {rule.name for rule in POLARITY}}
    for word, places in modules.items():
        checks = {module.__name__ for module in places}
        areas[word] = {rule.name for rule in RULES if rule.check.__module__ in checks}
    found = list(accepted)
    return {
        word: tuple(dict.fromkeys(one.rule for one in found if one.rule in rules))
        for word, rules in areas.items()
    }
