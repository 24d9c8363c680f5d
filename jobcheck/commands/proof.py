"""What trials prove of the jobs of a shop, and what lost its proof to which change."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import fingerprint
from jobcheck.facts.frames import frames_of
from jobcheck.facts.polarity import Proof
from jobcheck.facts.proof import PartProof, Proofs, Standing, changed_values, dependencies
from jobcheck.findings import CallRefused
from jobcheck.known_good.known import KnownGood
from jobcheck.schema.trial import Observation
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.trade.shared_shifts import SharedShift, shared_shifts


class Lost(NamedTuple):
    """A proof that fell: the part, and the values that changed since: name, old, new.

    Without `values` the record is not as the trial was, and only the `dependencies` are known.
    """

    proof: PartProof
    dependencies: tuple[str, ...]
    values: tuple[tuple[str, object, object], ...]


class JobProof(NamedTuple):
    """One job: its proofs, what they were lost to, unknown listings, and shared shifts by axis."""

    job: str
    proofs: Proofs
    lost: tuple[Lost, ...]
    polarised: int
    unproven: tuple[str, ...]
    shifts: Mapping[str, tuple[SharedShift, ...]]

    @property
    def is_whole(self) -> bool:
        """Whether every part and every polarity is proven."""
        return len(self.proofs.of(Standing.PROVEN)) == len(self.proofs.parts) and not self.unproven


def prove(root: FilePath, job: str | None) -> tuple[JobProof, ...]:
    """Judge the trials of one job, or of all.

    Raises:
        CallRefused: the job does not exist, or the shop has none.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    if job is not None:
        require_job(shop, job)
    if not shop.jobs:
        raise CallRefused("The shop has no job.")
    good = KnownGood(reading, root).shop()
    facts = Facts(shop)
    good_facts = Facts(good) if good else None
    jobs = [job] if job else sorted(shop.jobs, key=natural)
    return tuple(job_proof(facts, good_facts, name) for name in jobs)


def job_proof(facts: Facts, good: Facts | None, job: str) -> JobProof:
    """Judge the trials of one job; `good` is the last record, which may have the old values."""
    proofs = Proofs(facts, job)
    legs = facts.polarity
    polarised = [reference for reference, _ in legs.polarised(job)]
    unproven = [ref for ref in polarised if legs.legs(job, ref).verdict is not Proof.PROVEN]
    return JobProof(
        job,
        proofs,
        tuple(_lost(facts, good, one) for one in proofs.of(Standing.LOST)),
        len(polarised),
        tuple(sorted(unproven, key=natural)),
        _shifts(facts, job),
    )


def _lost(facts: Facts, good: Facts | None, proof: PartProof) -> Lost:
    """Say which values changed, where the record has those of the trial."""
    at = proof.seen_in, proof.reference
    is_recorded = good is not None and _places(good.shop, *at)
    then = dependencies(good, *at) if good and is_recorded else {}
    now = dependencies(facts, *at)
    values = [
        change
        for name in proof.lost_to
        if name in then and fingerprint("t", then[name]) == proof.under.get(name)
        for change in changed_values(then[name], now[name])
    ]
    return Lost(proof, proof.lost_to, tuple(values))


def _places(shop: Shop, job: str, reference: str) -> bool:
    return job in shop.jobs and reference in shop.jobs[job].placements.by_reference


def _shifts(facts: Facts, job: str) -> dict[str, tuple[SharedShift, ...]]:
    """Return the shifts that placements share, by axis, from the trials of a job."""
    seen = list(_observed(facts, job))
    found = {}
    for axis in ("x_mm", "y_mm", "turn_deg"):
        rows = [(getattr(one, axis), causes) for one, causes in seen]
        known = [(value, causes) for value, causes in rows if value is not None]
        shared = shared_shifts([value for value, _ in known], [causes for _, causes in known])
        if shared:
            found[axis] = shared
    return found


def _observed(facts: Facts, job: str) -> Iterator[tuple[Observation, dict[str, str]]]:
    """Yield what was seen of each placement, with what may have shifted it."""
    frames = frames_of(facts.shop, job)
    for trial in facts.shop.trials.values():
        if trial.job != job:
            continue
        for reference, one in trial.placements.items():
            placement = frames.job.placements.by_reference.get(reference)
            if placement is None or placement.part is None:
                continue
            yield one, _causes(facts, one, placement.part, placement.rotation)


def _causes(facts: Facts, one: Observation, part: str, rotation: float) -> dict[str, str]:
    shop, outline = facts.shop, facts.shop.outline_of(part)
    recognition = shop.recognitions.get(outline.recognition or "") if outline else None
    causes = {
        "feeder": one.feeder or _only(facts.usage.feeders_of_part(part)),
        "nozzle": one.nozzle or _only(outline.nozzles if outline else ()),
        "camera": recognition.camera if recognition else "",
        "rotation": f"{rotation % 360:g}",
        "cell": one.cell or "",
    }
    return {factor: level for factor, level in causes.items() if level}


def _only(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ""
