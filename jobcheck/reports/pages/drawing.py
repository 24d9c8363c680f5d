"""Filling templates, and the scales of drawings."""

from __future__ import annotations

from functools import cache
from math import floor, log10
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def _templates() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("jobcheck.reports.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def filled(template: str, **values: Any) -> str:
    """Return a template of `reports/pages/templates` with values; all texts are escaped."""
    return _templates().get_template(template).render(values)


class Scale(NamedTuple):
    """A linear scale from values to the coordinates of a drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the coordinate of a value."""
        reach = self.high - self.low or 1.0
        return round(self.start + (value - self.low) / reach * (self.end - self.start), 2)

    def ticks(self, about: int = 5) -> list[tuple[float, str]]:
        """Return about so many round values within the scale, as coordinates and texts."""
        reach = (self.high - self.low) or 1.0
        rough = reach / about
        power = 10.0 ** floor(log10(rough))
        step = next(power * m for m in (1, 2, 5, 10) if power * m >= rough * 0.999)
        first, last = -floor(-self.low / step + 1e-9), floor(self.high / step + 1e-9)
        return [(self.at(n * step), f"{n * step:.6g}") for n in range(first, last + 1)]


class PowersOfTen(NamedTuple):
    """A logarithmic scale: `decades` is linear in the logarithm of the values."""

    decades: Scale

    def at(self, logarithm: float) -> float:
        """Return the coordinate of a logarithm to the base ten."""
        return self.decades.at(logarithm)

    def ticks(self, about: int = 5) -> list[tuple[float, str]]:
        """Return 1, 2 and 5 times the powers of ten within the scale, or fewer."""
        low, high = self.decades.low, self.decades.high
        steps = (1, 2, 5) if high - low < about / 2 else (1,)
        powers = range(floor(low), floor(high) + 1)
        values = [step * 10.0**power for power in powers for step in steps]
        return [(self.at(log10(v)), f"{v:g}") for v in values if low <= log10(v) <= high]
