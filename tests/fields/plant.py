"""Planting a fault into one field, and whether lint reports it at its cause."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from enum import StrEnum
from functools import cache
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.findings import Level
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import RULES
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.shop.paths import Path, is_within, look_up, natural, parse, show
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from tests.support.edited import TODAY, files_of

_EXAMPLE = FilePath(__file__).parents[2] / "examples" / "soil-logger"
_CLASSES = FilePath(__file__).with_name("classes.txt")
_PAIRS = (
    ("x", "y"),
    ("empty_kpa", "held_kpa"),
    ("tip_outer_mm", "bore_mm"),
    ("columns", "rows"),
    ("right", "up"),
)
_EXCHANGED = dict([*_PAIRS, *(pair[::-1] for pair in _PAIRS)])
"""Fields that are taken for one another most easily, within one entry."""


_KEYED = frozenset(
    [
        *("cameras", "spindles", "nozzles", "rack", "feeder_rows", "obstacles", "outlines"),
        *("recognitions", "parts", "feeders", "fiducials", "holes", "placements", "bill"),
    ]
)
"""Collections keyed by identity: a field has its neighbours there."""


class Edit(StrEnum):
    """What is done to a field, in the order of the columns of `classes.txt`."""

    ABSENT = "absent"
    TENFOLD = "tenfold"
    TENTH = "tenth"
    NEGATED = "negated"
    EXCHANGED = "exchanged"
    COPIED = "copied"


class Class(StrEnum):
    """What must come of a fault."""

    ERROR = "E"
    FOUND = "F"
    DIFF = "D"
    HARMLESS = "H"


class Case(NamedTuple):
    """One fault of one field, with the class that was given to it."""

    path: Path
    edit: Edit
    expected: Class

    def __str__(self) -> str:
        return f"{show(self.path)} {self.edit}"


class Result(NamedTuple):
    """What lint says beyond what it says of the clean shop.

    `rules` report it at or beside the field, `elsewhere` report something else; `not_checked` tells
    whether what could not be checked names the field; `level` is the heaviest at the field.
    """

    rules: tuple[str, ...]
    elsewhere: tuple[str, ...]
    not_checked: bool
    level: Level | None

    @property
    def is_found(self) -> bool:
        """Whether a finding or a line of what was not checked points at the field."""
        return bool(self.rules) or self.not_checked


def cases() -> tuple[Case, ...]:
    """Return every classified fault, in the order of `classes.txt`."""
    found = []
    for line in _CLASSES.read_text().splitlines():
        if line.startswith("#"):
            continue
        path, *letters = line.partition("  #")[0].split()
        for edit, letter in zip(Edit, letters, strict=True):
            if letter != "-":
                found.append(Case(parse(path), edit, Class(letter)))
    return tuple(found)


def plant(case: Case) -> Result:
    """Plant one fault into the clean example and lint it, without a record."""
    plain = copy.deepcopy(_clean().plain)
    for path, value in edits(_clean().plain, case.path, case.edit).items():
        _put(plain, path, value)
    return _compared(_linted(plain), case.path)


def edits(plain: dict[str, Any], path: Path, edit: Edit) -> dict[Path, Any]:
    """Return path -> value of the fields that an edit changes; None leaves a field out.

    Raises:
        LookupError: the field has no such neighbour.
    """
    value: Any = look_up(plain, path)
    if edit is Edit.ABSENT:
        return {path: None}
    if edit in (Edit.TENFOLD, Edit.TENTH):
        return {path: _times(value, 10 if edit is Edit.TENFOLD else 0.1)}
    if edit is Edit.NEGATED:
        return {path: not value if isinstance(value, bool) else _times(value, -1)}
    if edit is Edit.EXCHANGED and isinstance(value, list) and len(value) == 2:
        return {path: value[::-1]}
    other = _neighbour(plain, path, edit)
    return {path: look_up(plain, other)} | ({other: value} if edit is Edit.EXCHANGED else {})


def _times(value: Any, factor: float) -> Any:
    if isinstance(value, list):
        return [_times(item, factor) for item in value]
    made = round(value * factor, 9)
    return int(made) if isinstance(value, int) and made == int(made) else made


def _neighbour(plain: dict[str, Any], path: Path, edit: Edit) -> Path:
    """Return the neighbour of a field: of an exchange within its entry, else in the next entry."""
    other = (*path[:-1], _EXCHANGED.get(path[-1], ""))
    if edit is Edit.EXCHANGED and look_up(plain, other) is not None:
        return other
    return next(_neighbours(plain, path))


def _neighbours(plain: dict[str, Any], path: Path) -> Iterator[Path]:
    """Yield the same field of other entries where it has another value, nearest first."""
    value = look_up(plain, path)
    for depth in range(len(path) - 2, 0, -1):
        if path[depth - 1] not in _KEYED:
            continue
        siblings = look_up(plain, path[:depth])
        assert isinstance(siblings, dict)
        names = sorted(siblings, key=natural)
        here = names.index(path[depth])
        for name in [*names[here + 1 :], *names[:here]]:
            other = (*path[:depth], name, *path[depth + 1 :])
            found = look_up(plain, other)
            if found is not None and found != value and isinstance(found, type(value)):
                yield other
    raise LookupError(f"{show(path)} has no neighbour with another value")


def _put(plain: dict[str, Any], path: Path, value: Any) -> None:
    holder: Any = look_up(plain, path[:-1])
    if value is None:
        del holder[path[-1]]
    else:
        holder[path[-1]] = value


@cache
def _clean() -> Any:
    shop = read_shop(folder_state(_EXAMPLE)).shop
    assert shop is not None
    return shop


@cache
def _clean_outcome() -> tuple[frozenset[tuple[str, Path]], frozenset[tuple[str, str]]]:
    outcome = _linted(_clean().plain)
    known = frozenset((finding.rule, finding.path) for finding in outcome.open)
    return known, frozenset((entry.rule, entry.cause) for entry in outcome.not_checked)


def _linted(plain: dict[str, Any]) -> Outcome:
    state = State("planted", HeldFiles(files_of(plain, indent=None)), "soil-logger")
    reading = read_shop(state)
    if reading.shop is None:
        return Outcome(reading.faults, ())
    outcome = run_rules(Inspection(reading.shop, TODAY), RULES, reading.places.of)
    return Outcome((*reading.faults, *outcome.findings), outcome.not_checked)


def _compared(outcome: Outcome, path: Path) -> Result:
    findings, not_checked = _clean_outcome()
    new = [finding for finding in outcome.open if (finding.rule, finding.path) not in findings]
    at = [
        finding
        for finding in new
        if any(_is_beside(other, path) for other in (finding.path, *_related(finding)))
    ]
    unchecked = _is_loosened(outcome, path) or any(
        any(_is_beside(other, path) for other in entry.paths)
        for entry in outcome.not_checked
        if (entry.rule, entry.cause) not in not_checked
    )
    return Result(
        rules=tuple(dict.fromkeys(finding.rule for finding in at)),
        elsewhere=tuple(dict.fromkeys(finding.rule for finding in new if finding not in at)),
        not_checked=unchecked,
        level=min((finding.level for finding in at), key=lambda level: level.rank, default=None),
    )


def _is_loosened(outcome: Outcome, path: Path) -> bool:
    """Tell whether a limit that lets more pass than its default is named."""
    return any(_is_beside(("shop", "limits", each.limit), path) for each in outcome.loosened)


def _related(finding: Any) -> list[Path]:
    return [related.path for related in finding.related]


def _is_beside(other: Path, path: Path) -> bool:
    """Tell whether two paths are one field, hold one another, or are fields of one block."""
    return is_within(other, path) or is_within(path, other) or _block(other) == _block(path)


def _block(path: Path) -> Path:
    return path[:-1] if len(path) > 2 else path
