"""Rules about the controller's own files, where the shop has a map of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING

from jobcheck.findings import Level, Problem, Remedy, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import is_absent, same
from jobcheck.wording import count

if TYPE_CHECKING:  # the map's models are loaded only where a shop has a map
    from jobcheck.shop.shop import ControllerValue

_MOST = 4


@rule(
    Level.ERROR,
    fails="controller.cameras.up.controls.gain: 5",
    passes="controller.cameras.up.controls.gain: 4",
)
def controller_differs(look: Inspection) -> Iterator[Problem]:
    """The controller's own files and the description have different values.

    It is asked for by `check_bridge` in shop.yaml. Where a record has the value of one side, the
    other side is named as the one that differs from it.

    On the machine: it uses the controller's values, but jobcheck has checked the described ones.

    To do: look which value is right. `jobcheck gather` reads it from the controller's files,
    `jobcheck deliver` writes the description into them.

    Source: common practice, no published source.
    """
    found: dict[tuple[str, str], list[ControllerValue]] = defaultdict(list)
    for value in sorted(look.shop.controller, key=lambda value: (value.file, value.path)):
        found[_side(look, value), value.file].append(value)
    for (side, file), values in found.items():
        yield _problem(look, side, file, values)


def _side(look: Inspection, value: ControllerValue) -> str:
    """Return which side differs from the record: controller, description, or both."""
    if look.good is None:
        return "both"
    recorded = look.good.plain_at(value.path)
    if _alike(look.shop.plain_at(value.path), recorded):
        return "controller"
    return "description" if _alike(value.value, recorded) else "both"


def _alike(one: object, other: object) -> bool:
    return same(one, other) or (is_absent(one) and is_absent(other))


def _problem(look: Inspection, side: str, file: str, values: list[ControllerValue]) -> Problem:
    paths = [value.path for value in values]
    number = count(len(values), "value")
    says = {
        "controller": f"{file} differs from the record, and from the description, in {number}.",
        "description": f"the description differs from the record, and from {file}, in {number}.",
        "both": f"the description and {file} differ in {number}.",
    }[side]
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=says[0].upper() + says[1:] if side != "controller" else says,
        observed=_values(look, values),
        consequence="The machine uses the controller's value; jobcheck has checked the described "
        "one.",
        remedy=_remedy(side, file, paths),
    )


def _values(look: Inspection, values: list[ControllerValue]) -> str:
    shown = [
        f"{show(value.path)} {_said(look.shop.plain_at(value.path))} here, "
        f"{_said(value.value)} in the controller"
        for value in values[:_MOST]
    ]
    more = f"; {len(values) - _MOST} more" if len(values) > _MOST else ""
    return "; ".join(shown) + more


def _said(value: object) -> str:
    if is_absent(value):
        return "missing"
    return str(value).lower() if isinstance(value, bool) else str(value)


def _remedy(side: str, file: str, paths: list[Path]) -> Remedy:
    whose = "recorded" if side == "controller" else "described"
    return (
        f"Look which is right. If it is the {whose} value:",
        command("deliver", show(_shared(paths)), "--write"),
        f"If it is the value in {file}, take it; then retune and rehearse:",
        command("gather", "--write"),
    )


def _shared(paths: list[Path]) -> Path:
    """Return the selection that covers all paths."""
    common = paths[0]
    for path in paths:
        while path[: len(common)] != common:
            common = common[:-1]
    return common or paths[0]
