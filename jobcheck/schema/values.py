"""Kinds of value that more than one part of the description uses."""

from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

from jobcheck.schema.fields import Described, measurement, note, setting

Key = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]+$", max_length=100)]
"""A key of identity."""


def _written_as_text(value: Any) -> Any:
    if not isinstance(value, (str, date)):
        raise ValueError("a date is written as year-month-day, for example 2026-10-02")
    return value


Day = Annotated[date, Field(strict=False), BeforeValidator(_written_as_text)]
"""A date; pydantic would take a bare number for seconds since 1970."""


def _ascending(limits: list[float]) -> list[float]:
    if limits[0] >= limits[1]:
        raise ValueError(
            f"the lower limit comes first, but {limits[0]:g} is not below {limits[1]:g}"
        )
    return limits


Limits2 = Annotated[list[float], Field(min_length=2, max_length=2), AfterValidator(_ascending)]
"""A lower and an upper limit."""

PositivePair = Annotated[list[Annotated[float, Field(gt=0)]], Field(min_length=2, max_length=2)]
"""Two lengths: along x, then along y."""

Pair = Annotated[list[float], Field(min_length=2, max_length=2)]
"""Two distances, either sign: along x, then along y."""

PixelPair = Annotated[list[Annotated[int, Field(gt=0)]], Field(min_length=2, max_length=2)]
"""Two numbers of pixels: columns, then rows."""


class Point(Described):
    """A position in the plane, mm."""

    x: float = measurement("Position along x, mm.", unit="mm")
    y: float = measurement("Position along y, mm.", unit="mm")
    measured: Day | None = note("The day on which it was measured.")


class Point3(Point):
    """A position in space, mm; z is up."""

    z: float = measurement("Height, mm; z is up.", unit="mm")


class Mark(Described):
    """A fiducial."""

    x: float = measurement("Centre along x, mm.", unit="mm")
    y: float = measurement("Centre along y, mm.", unit="mm")
    diameter_mm: float = measurement(
        "Diameter of the mark, mm; 1.0 to 3.0 by the SMEMA fiducial mark standard.",
        unit="mm",
        gt=0,
        examples=[1.0],
    )
    clear_mm: float | None = measurement(
        "Width of the ring around the mark that is free of copper and print, mm.",
        None,
        unit="mm",
        ge=0,
    )
    search_radius_mm: float | None = setting(
        "How far around its place it is searched, mm; as far as the home mark where not given.",
        None,
        unit="mm",
        gt=0,
    )
