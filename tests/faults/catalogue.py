"""All planted faults by area."""

from tests.faults import (
    boards,
    cameras,
    changes,
    feeders,
    lists,
    marks,
    motion,
    parts,
    polarity,
    reading,
)
from tests.faults.plant import Fault, Planted, plant
from tests.faults.shops import bases

AREAS: dict[str, tuple[Fault, ...]] = {
    "reading": reading.FAULTS,
    "cameras": cameras.FAULTS,
    "parts": parts.FAULTS,
    "feeders": feeders.FAULTS,
    "polarity": polarity.FAULTS,
    "lists": lists.FAULTS,
    "marks": marks.FAULTS,
    "boards": boards.FAULTS,
    "motion": motion.FAULTS,
    "changes": changes.FAULTS,
}


def planted(area: str) -> list[Planted]:
    """Plant every fault of an area into every clean shop."""
    return [plant(fault, base) for fault in AREAS[area] for base in bases()]


def area_of(rule: str) -> str:
    """Return the area whose faults a rule finds, the first of several; `other` where none are."""
    areas = (area for area, faults in AREAS.items() if any(f.rule == rule for f in faults))
    return next(areas, "other")
