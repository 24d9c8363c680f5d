"""Rules about the controller's own files, where the shop has a map of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING

from jobcheck.changes.selections import selections_of
from jobcheck.findings import Command, Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import is_absent, same
from jobcheck.wording import count

if TYPE_CHECKING:  # the map's models are loaded only where a shop has a map
    from jobcheck.shop.shop import ControllerValue

_MOST = 4


@rule(
    Level.ERROR,
    Level.NOTE,
    fails="controller.cameras.up.controls.gain: 5",
    passes="controller.cameras.up.controls.gain: 4",
)
def controller_differs(look: Inspection) -> Iterator[Problem]:
    """The controller's own files and the description have different values.

    A shop with a map is compared as far as the controller's files are there. Where a record has
    the value of one side, the other side is named as the one that differs from it. Counts change
    with every part that is placed: where they differ it is a note.

    On the machine: it uses the controller's values, but jobcheck has checked the described ones.

    To do: look which value is right. `jobcheck restore --deliver` puts the recorded value on both
    sides, `jobcheck gather` takes the controller's, `jobcheck deliver` writes the described one.

    Source: common practice, no published source.
    """
    found: dict[tuple[str, str, Path], list[ControllerValue]] = defaultdict(list)
    counts: list[ControllerValue] = []
    for value in sorted(look.shop.controller, key=lambda value: (value.file, value.path)):
        if is_compared(value.path) or _is_whole(look, value):
            camera = value.path[:2] if value.path[0] == "cameras" else ()
            found[_side(look, value), value.file, camera].append(value)
        else:
            counts.append(value)
    for (side, file, _), values in found.items():
        yield _problem(look, side, file, values)
    if counts:
        yield _counted(look, counts)


def is_compared(path: Path) -> bool:
    """Tell whether a value that differs is a fault: a setting or a measurement, not a count."""
    return class_of(path) in (FieldClass.SETTING, FieldClass.MEASUREMENT)


def _is_whole(look: Inspection, value: ControllerValue) -> bool:
    """Tell whether only one side has the entry of a value at all."""
    return value.is_gone or is_absent(look.shop.plain_at(value.path[:2]))


def _side(look: Inspection, value: ControllerValue) -> str:
    """Return which side differs from the record: controller, description, both; else unknown."""
    recorded = look.good.plain_at(value.path) if look.good else None
    if is_absent(recorded):
        return "unknown"
    if same(look.shop.plain_at(value.path), recorded):
        return "controller"
    return "description" if same(value.value, recorded) else "both"


def _problem(look: Inspection, side: str, file: str, values: list[ControllerValue]) -> Problem:
    paths = [value.path for value in values]
    number = count(len(values), "value")
    says = {
        "controller": f"{file} differs from the record, and from the description, in {number}.",
        "description": f"The description differs from the record, and from {file}, in {number}.",
        "both": f"The description and {file} differ in {number}, and both from the record.",
        "unknown": f"The description and {file} differ in {number}.",
    }[side]
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=says,
        observed=_values(look, values),
        consequence="The machine uses the controller's value; jobcheck has checked the described "
        "one.",
        remedy=tuple(_remedy(look, side, values)),
    )


def _counted(look: Inspection, values: list[ControllerValue]) -> Problem:
    paths = [value.path for value in values]
    return Problem(
        path=paths[0],
        related=tuple(paths[1:_MOST]),
        message=f"{count(len(values), 'count')} in the controller's files "
        f"{'differs' if len(values) == 1 else 'differ'} from the description.",
        observed=_values(look, values),
        consequence="The stock of a run is judged by the described counts.",
        remedy=("To take the controller's counts:", command("gather", *map(show, paths[:_MOST])))
        if len(values) <= _MOST
        else ("To take everything from the controller's files:", command("gather")),
        level=Level.NOTE,
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


def _remedy(look: Inspection, side: str, values: list[ControllerValue]) -> Iterator[str | Command]:
    """Yield the ways to agreement, the one that keeps the recorded value first."""
    whole = [value.path[:2] for value in values if _is_whole(look, value)]
    rest = [value.path for value in values if value.path[:2] not in whole]
    words = [*map(show, dict.fromkeys(whole)), *selections_of(rest)]
    is_gone = any(value.is_gone for value in values)
    if side != "unknown" and not is_gone:
        yield "Look which is right. To put the recorded value on both sides:"
        yield command("restore", *words, "--deliver")
    if is_gone:
        yield "If the controller lost it by accident, add it there again. To take it out here:"
    else:
        yield "If it is the controller's value, take it; then retune and rehearse:"
    yield command("gather", *words)
    described = all(not is_absent(look.shop.plain_at(value.path)) for value in values)
    if side in ("description", "both", "unknown") and described and not is_gone:
        yield "If it is the described value, write it into the controller's file:"
        yield command("deliver", *words)
