"""Who depends on what: from a recognition, an outline or a nozzle to parts and placements.

Rules count with it how much a fault reaches, and impact counts how much a change reaches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.frames import listed_x

if TYPE_CHECKING:
    from jobcheck.facts.links import Links
    from jobcheck.schema.job import Job
    from jobcheck.shop.shop import Shop


class Placed(NamedTuple):
    """What a job places, fitted and on the side it builds, column by column in list order.

    Columns are quicker to look through than placements; `xs` and `ys` are mm, seen through the top
    whichever way the list counts the bottom; `rotations` are degrees as listed,
    `left_out` are the references on that side that are not fitted.
    """

    references: list[str]
    parts: list[str | None]
    xs: list[float]
    ys: list[float]
    rotations: list[float]
    left_out: list[str]


def _placed(job: Job) -> Placed:
    side = job.side
    on_side = [entry for entry in job.placements.by_reference.items() if entry[1].side == side]
    fitted = [placement for _, placement in on_side if placement.fitted]
    return Placed(
        references=[reference for reference, placement in on_side if placement.fitted],
        parts=[placement.part for placement in fitted],
        xs=[placement.x for placement in fitted]
        if side == "top"
        else [listed_x(job, placement.x) for placement in fitted],
        ys=[placement.y for placement in fitted],
        rotations=[placement.rotation for placement in fitted],
        left_out=[reference for reference, placement in on_side if not placement.fitted],
    )


class Usage:
    """What depends on an entry of a shop, each name once and in the order of the description.

    An entry that does not exist has users all the same where something names it; an entry that
    nothing names has none.
    """

    def __init__(self, shop: Shop, links: Links) -> None:
        self._shop = shop
        self._links = links

    def _users(self, collection: str, key: str, of: str) -> tuple[str, ...]:
        """Return the keys of the collection `of` whose entries name one entry."""
        paths = self._links.of(collection, key)
        return tuple(dict.fromkeys(path[1] for path in paths if path[0] == of))

    def _parts_of_outlines(self, outlines: Iterable[str]) -> tuple[str, ...]:
        return tuple(
            dict.fromkeys(part for outline in outlines for part in self.parts_of_outline(outline))
        )

    def recognitions_of_camera(self, name: str) -> tuple[str, ...]:
        """Return the recognitions that one camera looks for."""
        return self._users("cameras", name, "recognitions")

    def outlines_of_recognition(self, name: str) -> tuple[str, ...]:
        """Return the outlines that are found by one recognition."""
        return self._users("recognitions", name, "outlines")

    def parts_of_outline(self, name: str) -> tuple[str, ...]:
        """Return the parts that have one outline."""
        return self._users("outlines", name, "parts")

    def parts_of_recognition(self, name: str) -> tuple[str, ...]:
        """Return the parts that are found by one recognition."""
        return self._parts_of_outlines(self.outlines_of_recognition(name))

    def parts_of_nozzle(self, name: str) -> tuple[str, ...]:
        """Return the parts that one nozzle may lift."""
        return self._parts_of_outlines(self._users("nozzles", name, "outlines"))

    def feeders_of_part(self, name: str) -> tuple[str, ...]:
        """Return the feeders that hold one part."""
        return self._users("parts", name, "feeders")

    @cached_property
    def placements_by_part(self) -> dict[str, dict[str, list[str]]]:
        """Job -> part -> references that the job places: fitted, on the side it builds."""
        placed: dict[str, dict[str, list[str]]] = {}
        for job, columns in self.placed.items():
            references: dict[str, list[str]] = defaultdict(list)
            for part, reference in zip(columns.parts, columns.references, strict=True):
                if part is not None:
                    references[part].append(reference)
            placed[job] = dict(references)
        return placed

    @cached_property
    def placed(self) -> dict[str, Placed]:
        """Job -> its placed references; each list is read only once."""
        return {name: _placed(job) for name, job in self._shop.jobs.items()}

    @cached_property
    def extents(self) -> dict[str, tuple[float, float, float, float]]:
        """Job -> least and greatest x, least and greatest y, mm; one that places nothing has none.

        Six rules need to know whether all placements are on the board.
        """
        return {
            name: (min(columns.xs), max(columns.xs), min(columns.ys), max(columns.ys))
            for name, columns in self.placed.items()
            if columns.xs
        }

    def placements_of_parts(self, parts: Iterable[str]) -> dict[str, list[str]]:
        """Return job -> references of some parts on one board; a job without any is left out.

        References are grouped by part, in the order of the parts.
        """
        wanted = tuple(dict.fromkeys(parts))
        found = {
            job: [reference for part in wanted for reference in by_part.get(part, ())]
            for job, by_part in self.placements_by_part.items()
        }
        return {job: references for job, references in found.items() if references}

    def placed_parts(self) -> frozenset[str]:
        """Return the names of the parts that some job places."""
        return frozenset(part for by_part in self.placements_by_part.values() for part in by_part)

    def placement_count(self, job: str) -> int:
        """Return how many placements with a part a job has on one board."""
        return sum(map(len, self.placements_by_part.get(job, {}).values()))
