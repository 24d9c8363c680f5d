"""The rule about values that are marked as not measured."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.derived import derived_values, starter_values
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import show
from jobcheck.wording import count, listed


@rule(
    Level.WARNING,
    fails="outlines.soic-8.derived: {width_mm: nominal of the case family}",
    passes="outlines.soic-8.derived: {height_mm: nominal of the case family}",
)
def derived_without_value(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A key in `derived` has no value beside it.

    Values that `jobcheck new` invented are marked `starter`; they are counted as not checked,
    because no rule can compare them with the machine.

    On the machine: the source of a value is not known; a misspelled key marks nothing, and a value
    that nobody measured is taken for a measured one.

    To do: correct the key, or remove it when the value was measured or removed.

    Source: common practice, no published source.
    """
    for one in derived_values(look.shop):
        if not one.has_value and look.shop.understood(one.path):
            where = show(one.owner) if one.owner else "the machine"
            yield Problem(
                path=(*one.owner, "derived", one.key),
                message=f"derived names {one.key}, but {where} has no {one.key}.",
                observed=f"{one.key}: {one.source}",
                consequence="If another key was meant, its value may be taken for a measured one.",
                remedy=("Correct the key, or remove it from derived.",),
            )
    if invented := starter_values(look.shop):
        yield Unchecked(
            f"{count(len(invented), 'value')} that `jobcheck new` invented",
            f"still marked `starter`: {listed([show(path) for path in invented])}",
            "derived",
            tuple(invented),
            len(invented),
        )
