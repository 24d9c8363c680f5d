"""What trials prove: a part is proven while nothing has changed that a good trial depended on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import (
    LOOK,
    covered_by_look,
    described_values,
    fingerprint,
    look_fingerprint,
    picture,
)
from jobcheck.facts.polarity import Proof
from jobcheck.schema.trial import Observation, TrialKind
from jobcheck.shop.paths import natural

Values = Mapping[str, object]


class Standing(StrEnum):
    """How far a part is proven."""

    PROVEN = "proven"
    FAILED = "failed"
    LOST = "lost"
    NEVER = "never"


class PartProof(NamedTuple):
    """One part of a job: how far it is proven, and by which trials.

    `kinds` are the kinds of trial that prove it with their last day; `lost_to` the dependencies
    that changed since the last good trial; `result` what went wrong in the last one; `reference`
    the placement that says so, of the job `seen_in`, with the fingerprints that it was `under`.
    """

    part: str
    standing: Standing
    kinds: Mapping[TrialKind, date] = {}
    lost_to: tuple[str, ...] = ()
    result: str = ""
    reference: str = ""
    seen_in: str = ""
    under: Mapping[str, str] = {}

    @property
    def is_proven_for_paste(self) -> bool:
        """Whether height and release are proven too: tape does not prove them."""
        return bool({"first-article", "paste"} & self.kinds.keys())


class _Seen(NamedTuple):
    """An observation with its trial, and the dependencies that have changed since."""

    day: date
    kind: TrialKind
    job: str
    reference: str
    observed: Observation
    changed: tuple[str, ...]


def dependencies(facts: Facts, job: str, reference: str) -> dict[str, Values]:
    """Return what the result of a placement depends on: name -> values.

    These are outline, part, recognition, picture, nozzle, feeder (carrier and pick), reel and
    listing; notes, counts and stamps are not in them. One that is not described has no values.
    """
    shop = facts.shop
    placement = shop.jobs[job].placements.by_reference[reference]
    part = shop.parts.get(placement.part or "")
    outline = shop.outlines.get(part.outline) if part else None
    recognition = shop.recognitions.get((outline.recognition or "") if outline else "")
    camera = shop.cameras.get(recognition.camera) if recognition else None
    holding = facts.usage.feeders_of_part(placement.part) if placement.part else ()
    feeders = {name: shop.feeders[name] for name in holding}
    nozzles = shop.machine.nozzles if shop.machine and outline else {}
    allowed = outline.nozzles if outline else []
    seen = picture(camera, recognition) if camera and recognition else {}
    return {
        "outline": described_values(outline),
        "part": described_values(part),
        "recognition": described_values(recognition),
        "picture": {".".join(path): value for path, value in seen.items()},
        "nozzle": {name: described_values(nozzles[name]) for name in allowed if name in nozzles},
        "feeder": {name: described_values(feeder) for name, feeder in feeders.items()},
        "reel": {
            name: feeder.reel.model_dump(mode="json", include={"maker_number", "lot", "loaded"})
            for name, feeder in feeders.items()
            if feeder.reel
        },
        "listing": {
            **(covered_by_look(placement, outline, shop.jobs[job].placements) if outline else {}),
            "x": placement.x,
            "y": placement.y,
        },
    }


def fingerprints(facts: Facts, job: str, reference: str) -> dict[str, str]:
    """Return `t-` and twelve hex digits of each dependency, and the look's own fingerprint."""
    found = {
        name: fingerprint("t", values)
        for name, values in dependencies(facts, job, reference).items()
    }
    listing = facts.shop.jobs[job].placements
    placement = listing.by_reference[reference]
    outline = facts.shop.outline_of(placement.part)
    if outline is not None:
        found[LOOK] = look_fingerprint(placement, outline, listing)
    return found


def changed_values(
    then: Values, now: Values, above: str = ""
) -> Iterator[tuple[str, object, object]]:
    """Yield the values that differ between two states of a dependency: name, old, new."""
    for key in sorted({*then, *now}, key=natural):
        old, new = then.get(key), now.get(key)
        name = f"{above}{key}"
        if isinstance(old, Mapping) and isinstance(new, Mapping):
            yield from changed_values(old, new, f"{name}.")
        elif old != new:
            yield name, old, new


class Proofs:
    """What the trials of a shop prove of one job."""

    def __init__(self, facts: Facts, job: str) -> None:
        """Take a shop with its trials; nothing is worked out yet."""
        self._facts = facts
        self._job = job
        self._now: dict[tuple[str, str], dict[str, str]] = {}

    @cached_property
    def parts(self) -> tuple[PartProof, ...]:
        """Every part that the job places, by name."""
        placed = self._facts.usage.placements_by_part.get(self._job, {})
        names = sorted((name for name in placed if name), key=natural)
        return tuple(self._part(name) for name in names)

    def of(self, standing: Standing) -> tuple[PartProof, ...]:
        """Return the parts with one standing."""
        return tuple(part for part in self.parts if part.standing is standing)

    @cached_property
    def rehearsal(self) -> tuple[str, ...]:
        """The fewest placements that would prove the rest.

        Each unproven listing of a polarised part needs a look of its own; an unproven part needs
        any one placement. So the fewest are all of the former, and one of each other part.
        """
        legs = self._facts.polarity
        chosen = [
            reference
            for reference, _ in legs.polarised(self._job)
            if legs.listing(self._job, reference).proof is not Proof.PROVEN
        ]
        placed = self._facts.usage.placements_by_part.get(self._job, {})
        for part in self.parts:
            references = placed[part.part]
            if part.standing is not Standing.PROVEN and not {*references} & {*chosen}:
                chosen.append(min(references, key=natural))
        return tuple(sorted(chosen, key=natural))

    @cached_property
    def last_trial(self) -> date | None:
        """The day of the newest trial of the job."""
        days = [t.date for t in self._facts.shop.trials.values() if t.job == self._job]
        return max(days, default=None)

    def _part(self, name: str) -> PartProof:
        seen = self._by_part.get(name, [])
        current = [one for one in seen if not one.changed]
        if current and current[0].observed.result != "ok":
            worst = current[0]
            return PartProof(
                name, Standing.FAILED, {}, (), worst.observed.result, worst.reference, worst.job
            )
        good = [one for one in seen if one.observed.result == "ok"]
        proving = [one for one in good if not one.changed]
        if proving:
            kinds = {one.kind: one.day for one in reversed(proving)}
            first = proving[0]
            return PartProof(name, Standing.PROVEN, kinds, (), "", first.reference, first.job)
        if good:
            last = min(good, key=lambda one: len(one.changed))
            under = last.observed.under
            return PartProof(
                name, Standing.LOST, {}, last.changed, "", last.reference, last.job, under
            )
        return PartProof(name, Standing.NEVER)

    @cached_property
    def _by_part(self) -> dict[str, list[_Seen]]:
        """Part -> what was seen of it in any job, the newest first."""
        found: dict[str, list[_Seen]] = {}
        shop = self._facts.shop
        newest = sorted(shop.trials.items(), key=lambda one: (one[1].date, one[0]), reverse=True)
        for _, trial in newest:
            job = shop.jobs.get(trial.job)
            for reference, observed in trial.placements.items() if job else ():
                placement = job.placements.by_reference.get(reference) if job else None
                if placement is None or placement.part is None or observed.result == "not-seen":
                    continue
                changed = self._changed(trial.job, reference, observed)
                seen = _Seen(trial.date, trial.kind, trial.job, reference, observed, changed)
                found.setdefault(placement.part, []).append(seen)
        return found

    def _changed(self, job: str, reference: str, observed: Observation) -> tuple[str, ...]:
        if (job, reference) not in self._now:  # several trials saw the same placement
            self._now[job, reference] = fingerprints(self._facts, job, reference)
        now = self._now[job, reference]
        return tuple(name for name in now if name != LOOK and observed.under.get(name) != now[name])
