"""Marks on the fields of a description: its class, its unit, what it names, what it voids.

Diff, restore, fingerprints, the links and the schemas all read these marks; nothing else says
the class of each field.
"""

from enum import StrEnum
from typing import Any

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo


class FieldClass(StrEnum):
    """What kind of thing a field is, and so how diff and restore treat it."""

    SETTING = "setting"
    MEASUREMENT = "measurement"
    COUNT = "count"
    NOTE = "note"


class Described(BaseModel):
    """The base of every model: strict, closed and unchangeable."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


def _field(
    field_class: FieldClass,
    description: str,
    default: Any = ...,
    *,
    unit: str | None = None,
    names: str | None = None,
    changed: str | None = None,
    fingerprint: bool = False,
    **constraints: Any,
) -> Any:
    marks: dict[str, Any] = {"x-class": field_class.value}
    if unit:
        marks["x-unit"] = unit
    if names:
        marks["x-names"] = names
    if changed:
        marks["x-changed"] = changed
    if fingerprint:
        marks["x-fingerprint"] = True
    if default == {} or default == []:
        # not `dict` and `list` themselves, whose signatures Python parses from their docstrings
        constraints["default_factory"] = _empty_mapping if default == {} else _empty_list
    else:
        constraints["default"] = default
    return Field(description=description, json_schema_extra=marks, **constraints)


def _empty_mapping() -> dict[Any, Any]:
    return {}


def _empty_list() -> list[Any]:
    return []


def setting(description: str, default: Any = ..., **marks: Any) -> Any:
    """Mark a control, threshold or choice.

    `names` is the collection that the text points into, `changed` the consequence of a change of a
    value that no placement names.
    """
    return _field(FieldClass.SETTING, description, default, **marks)


def measurement(description: str, default: Any = ..., **marks: Any) -> Any:
    """Mark a position, scale or height: something found out on the machine."""
    return _field(FieldClass.MEASUREMENT, description, default, **marks)


def count(description: str, default: Any = ..., **marks: Any) -> Any:
    """Mark stock: something that changes by use alone."""
    return _field(FieldClass.COUNT, description, default, **marks)


def note(description: str, default: Any = None, **marks: Any) -> Any:
    """Mark what is for people only: it takes part in no check of values."""
    return _field(FieldClass.NOTE, description, default, **marks)


def mark(field: FieldInfo, name: str) -> Any:
    """Return one mark of a field (`x-class`, `x-unit`, `x-names`, `x-changed` …) or None."""
    marks = field.json_schema_extra
    return marks.get(name) if isinstance(marks, dict) else None


def derived() -> Any:
    """Mark the sources of values that nobody measured, by field."""
    text = "Field -> source of its value, where nobody has measured it."
    return note(text, {}, examples=[{"height_mm": "nominal of the case family"}])
