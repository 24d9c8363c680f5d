"""All planted faults by area: the folder of the rule that names the cause."""

from itertools import chain

from jobcheck.rules.registry import BY_NAME
from tests.faults import boards, cameras, feeders, fiducials, motion, parts, polarity, shop
from tests.faults.plant import Fault, Planted, plant
from tests.faults.shops import bases

_MODULES = (cameras, parts, feeders, boards, polarity, fiducials, motion, shop)


def area_of(rule: str) -> str:
    """Return the folder of a rule; `shop` for faults of reading and for kinds of change."""
    return BY_NAME[rule].check.__module__.split(".")[2] if rule in BY_NAME else "shop"


_ALL = tuple(chain.from_iterable(module.FAULTS for module in _MODULES))

AREAS: dict[str, tuple[Fault, ...]] = {
    area: tuple(fault for fault in _ALL if area_of(fault.rule) == area)
    for area in (module.__name__.rpartition(".")[2] for module in _MODULES)
}


def planted(area: str) -> list[Planted]:
    """Plant every fault of an area into every clean shop."""
    return [plant(fault, base) for fault in AREAS[area] for base in bases()]
