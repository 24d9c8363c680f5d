"""A proof falls with the change of what it depends on, and with nothing else."""

from __future__ import annotations

from functools import cache

import pytest

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import LOOK, covers
from jobcheck.facts.proof import fingerprints
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, show
from jobcheck.shop.shop import Shop
from tests.changes.every_field import Change, changes_of, example, fields

JOB = "soil-logger"
CHANGES = [
    change
    for path, info in fields()
    if path[0] != "shop"  # other files are another shop
    for change in changes_of(path, info)
    if JOB in change.new.jobs  # without its side it has no place for any part
]


@cache
def _prints() -> dict[str, dict[str, str]]:
    return _of(example())


def _of(shop: Shop) -> dict[str, dict[str, str]]:
    facts = Facts(shop)
    return {reference: fingerprints(facts, JOB, reference) for reference, _ in shop.placed(JOB)}


def _fallen(change: Change) -> set[str]:
    before, now = _prints(), _of(change.new)
    return {
        reference
        for reference in before.keys() & now.keys()
        if {**before[reference], LOOK: ""} != {**now[reference], LOOK: ""}
    }


def _dependent(change: Change) -> set[str]:
    """Who depends on a value, worked out from the links of the example alone."""
    path, shop = change.path, change.old
    is_reel = len(path) > 3 and path[2] == "reel" and path[3] in ("maker_number", "lot", "loaded")
    if class_of(path) in (FieldClass.NOTE, FieldClass.COUNT) and not is_reel:
        return set()
    if path[0] in ("outlines", "jobs") and getattr(change.new, path[0]) == getattr(shop, path[0]):
        return set()  # the default, written out
    still = {reference for reference, _ in change.new.placed(JOB)}
    return {ref for ref, _ in shop.placed(JOB) if ref in still and _touches(path, shop, ref)}


def _touches(path: Path, shop: Shop, reference: str) -> bool:
    placement = shop.jobs[JOB].placements.by_reference[reference]
    part = shop.parts[placement.part or ""]
    outline = shop.outlines[part.outline]
    recognition = outline.recognition or ""
    known = shop.recognitions.get(recognition)
    camera = known.camera if known else ""
    owner, name, *_ = (*path, "-")
    if owner == "jobs":
        return path[2] == "placements" and (
            path[3:] in (("zero",), ("bottom",), ("units",))
            or (path[3] == reference and path[4] in ("part", "rotation", "side", "x", "y"))
        )
    return {
        "outlines": name == part.outline,
        "parts": name == placement.part,
        "recognitions": name == recognition and path[-1] not in ("tuned", "tuned_under"),
        "cameras": name == camera and covers(path),
        "nozzles": name in outline.nozzles,
        "feeders": shop.feeders[name].part == placement.part if name in shop.feeders else False,
    }.get(owner, False)


@pytest.mark.parametrize("change", CHANGES, ids=lambda one: f"{show(one.path)} {one.word}")
def test_exactly_the_proofs_that_depend_on_a_value_fall(change: Change) -> None:
    fallen, dependent = _fallen(change), _dependent(change)
    if change.path[0] == "cameras":  # the light of a camera counts where a recognition has none
        assert fallen <= dependent
    elif change.path[:1] == ("feeders",) and change.path[2:] == ("part",):
        assert fallen >= dependent  # the other part gets the feeder
    elif change.path[2:] == ("placements", "D1", "part"):
        assert fallen == {"D1"}
    else:
        assert fallen == dependent


def test_the_catalogue_reaches_each_dependency() -> None:
    reached = {change.path[0] for change in CHANGES if _fallen(change)}
    expected = {"outlines", "parts", "recognitions", "cameras", "nozzles", "feeders", "jobs"}
    assert reached == expected
