"""Component layers of Gerber X3: positions, rotations and pins of parts.

Source: Gerber Layer Format Specification, section 6.9 (component data) as read; 5.6.10 (aperture
functions) and 5.6.14 to 5.6.16 (component attributes) from memory. Positions and rotations are
seen from the top on both sides.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from jobcheck.findings import fault
from jobcheck.sources.lists.cells import SpanCells
from jobcheck.sources.lists.dialect import Span
from jobcheck.sources.lists.numbers import finite, moved
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.reading import List, ListFormat, PartName
from jobcheck.sources.lists.refusing import RULE
from jobcheck.sources.lists.table import Skipped
from jobcheck.text import NotUnderstood, Text
from jobcheck.trade.units import MM_PER_UNIT

MAIN, PIN = "ComponentMain", "ComponentPin"

_FIELD = re.compile(r'\s*(?:"(?P<quoted>[^"]*)"|(?P<bare>[^,]*))\s*(?:,|$)')
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})")
_FORMAT = re.compile(r"FSLAX(\d)(\d)Y(\d)(\d)")
_APERTURE = re.compile(r"ADD(\d+)")
_OPERATION = re.compile(
    r"(?:G0?[123])?(?:X([-+]?\d{1,15}))?(?:Y([-+]?\d{1,15}))?(?:[IJ][-+]?\d{1,15})*D0?([123])"
)
_SELECT = re.compile(r"(?:G54)?D(\d{2,})")
_SIDES = {"top": "top", "bot": "bottom", "bottom": "bottom"}
_THROUGH = frozenset(("th", "pressfit"))
_FIRST_PINS = ("1", "A1")

Value = tuple[str, Span]
"""A field of an attribute and its span."""


@dataclass
class _Part:
    """The layer's data of one reference."""

    at: tuple[float | int, float | int]
    attributes: dict[str, Value]
    span: Span


@dataclass
class _Layer:
    """A layer while it is read: the state of the graphics, and what was found."""

    text: Text
    unit: str | None = None
    decimals: tuple[int, int] | None = None
    side: str | None = None
    functions: dict[str, str] = field(default_factory=dict)
    function: str = ""
    aperture: str = ""
    x: int = 0
    y: int = 0
    attributes: dict[str, Value] = field(default_factory=dict)
    pin: tuple[Value, Value] | None = None
    parts: list[_Part] = field(default_factory=list)
    pins: dict[str, dict[str, tuple[float | int, float | int, Span]]] = field(default_factory=dict)

    def fault(self, span: Span, says: str, do: str) -> NotUnderstood:
        return NotUnderstood(fault(self.text.place(*span), RULE, says, do))


def read_component_layer(data: bytes, file: str, options: ListOptions) -> List:
    """Read a component layer; positions are in mm, and pin 1 is included if a flash shows it.

    Through-hole parts are not fitted: no nozzle places them. Fiducials are not placements.

    Raises:
        NotUnderstood: it is not a component layer, or a command of it is not understood.
    """
    layer = _Layer(Text(data, file, options.encoding or "utf-8"), side=options.side)
    is_whole = False
    for span, command in _commands(layer.text.text):
        if command in ("M02", "M00"):
            is_whole = True
            break
        _obey(layer, command, span)
    if layer.side is None or not layer.text.text.strip():
        raise layer.fault(
            (0, 0),
            f"{file} is not a component layer: no .FileFunction says Component and a side.",
            "Export the component layer, or declare another format.",
        )
    if not is_whole:
        end = len(layer.text.text)
        raise layer.fault((end, end), f"{file} is incomplete: it has no M02.", "Export it again.")
    return _listed(layer, options)


def _commands(text: str) -> Iterator[tuple[Span, str]]:
    """Yield each complete command without its end, and its span."""
    at, opening = 0, text.find("%")
    while at < len(text):
        if at == opening:
            end = text.find("%", at + 1)
            if end < 0:
                return
            yield from _blocks(text, at + 1, end)
            opening = text.find("%", end + 1)
        else:
            end = text.find("*", at, opening if opening > at else len(text))
            if end < 0 and opening < 0:
                return
            if end < 0:
                at = opening
                continue
            yield _bare(text, at, end)
        at = end + 1


def _blocks(text: str, start: int, end: int) -> Iterator[tuple[Span, str]]:
    """Yield the commands between two percent signs."""
    for block in text[start:end].split("*"):
        if block.strip():
            yield _bare(text, start, start + len(block))
        start += len(block) + 1


def _bare(text: str, start: int, end: int) -> tuple[Span, str]:
    command = text[start:end]
    lead = len(command) - len(command.lstrip())
    command = command.strip()
    return (start + lead, start + lead + len(command)), command


def _obey(layer: _Layer, command: str, span: Span) -> None:
    if command.startswith("G04"):
        mark = command.find("#@!")
        if mark < 0:
            return
        inside = command[mark + 3 :].lstrip()
        _obey_attribute(layer, inside, (span[1] - len(inside), span[1]))
    elif command[:2] in ("TF", "TA", "TO", "TD"):
        _obey_attribute(layer, command, span)
    elif operation := _OPERATION.fullmatch(command):
        _operate(layer, operation, span)
    elif selected := _SELECT.fullmatch(command):
        layer.aperture = layer.functions.get(selected[1], "")
    elif defined := _APERTURE.match(command):
        layer.functions[defined[1]] = layer.function
    else:
        _set_up(layer, command, span)


def _set_up(layer: _Layer, command: str, span: Span) -> None:
    if command.startswith("FS"):
        digits = _FORMAT.fullmatch(command)
        if digits is None:
            says = f"The coordinate format {command} is not understood."
            raise layer.fault(span, says, "Export absolute coordinates, leading zeros left out.")
        layer.decimals = int(digits[2]), int(digits[4])
    elif command in ("MOMM", "G71", "MOIN", "G70"):
        layer.unit = "mm" if command in ("MOMM", "G71") else "inch"
    elif command.startswith(("SRX", "AB")) and not command.startswith("SRX1Y1"):
        says = "The layer repeats its contents: it is the layer of a panel."
        raise layer.fault(span, says, "Export the component layer of a single board.")


def _obey_attribute(layer: _Layer, command: str, span: Span) -> None:
    kind, rest = command[:2], command[2:]
    name, _, fields = rest.partition(",")
    values = _fields(fields, span[1] - len(fields))
    if kind == "TF" and name == ".FileFunction":
        _note_function(layer, [value for value, _ in values], span)
    elif kind == "TA" and name == ".AperFunction":
        layer.function = values[0][0] if values else ""
    elif kind == "TO" and name == ".P" and len(values) > 1:
        layer.pin = values[0], values[1]
    elif kind == "TO" and values:
        layer.attributes[name] = values[0]
    elif kind == "TD":
        _forget(layer, name)


def _forget(layer: _Layer, name: str) -> None:
    if not name or name == ".AperFunction":
        layer.function = ""
    if not name or name == ".P":
        layer.pin = None
    if not name:
        layer.attributes = {}
    else:
        layer.attributes.pop(name, None)


def _fields(text: str, start: int) -> list[Value]:
    """Split the fields of an attribute; a comma between quotes does not separate."""
    found: list[Value] = []
    at = 0
    while at < len(text):
        part = _FIELD.match(text, at)
        if part is None or part.end() == at:
            break
        group = "quoted" if part["quoted"] is not None else "bare"
        a, b = part.span(group)
        found.append((_plain(part[group].strip()), (start + a, start + b)))
        at = part.end()
    return found


def _plain(text: str) -> str:
    """Return a field with its escapes (four or eight hex digits) replaced."""
    return _ESCAPE.sub(_character, text)


def _character(code: re.Match[str]) -> str:
    number = int(code[1] or code[2], 16)
    return chr(number) if number < 0xD800 or 0xDFFF < number <= sys.maxunicode else code[0]


def _note_function(layer: _Layer, values: list[str], span: Span) -> None:
    if values[:1] != ["Component"]:
        says = f"The layer is of {', '.join(values[:1]) or 'no kind'}, not of components."
        raise layer.fault(span, says, "Name the component layer of the side that is built.")
    side = _SIDES.get(values[-1].lower())
    if side is None:
        raise layer.fault(span, f"{values[-1]} is not a side.", "Export it again.")
    layer.side = side


def _operate(layer: _Layer, operation: re.Match[str], span: Span) -> None:
    if operation[1] is not None:
        layer.x = int(operation[1])
    if operation[2] is not None:
        layer.y = int(operation[2])
    if operation[3] != "3" or layer.aperture not in (MAIN, PIN):
        return
    if layer.unit is None or layer.decimals is None:
        what = "unit (%MO)" if layer.unit is None else "format (%FS)"
        raise layer.fault(span, f"The {what} of the coordinates is missing.", "Export it again.")
    at = layer.x / 10 ** layer.decimals[0], layer.y / 10 ** layer.decimals[1]
    if layer.aperture == PIN:
        if layer.pin:
            (reference, _), (pin, _) = layer.pin
            layer.pins.setdefault(reference, {})[pin] = (*at, span)
        return
    if ".C" not in layer.attributes:
        raise layer.fault(span, "The component has no reference (.C).", "Export it again.")
    layer.parts.append(_Part(at, dict(layer.attributes), span))


def _listed(layer: _Layer, options: ListOptions) -> List:
    cells = SpanCells(layer.text)
    cells.origin_mm = options.origin_mm
    list_format = ListFormat(
        shape="Gerber X3",
        encoding=layer.text.encoding,
        unit=layer.unit or "",
        unit_from="the layer",
        side_from=f"{layer.side}, as the layer says",
    )
    skipped: list[Skipped] = []
    result = List({}, cells, skipped=skipped, format=list_format)
    for part in layer.parts:
        _add(layer, part, result, skipped)
    return result


def _add(layer: _Layer, part: _Part, result: List, skipped: list[Skipped]) -> None:
    reference, span = part.attributes[".C"]
    mount = part.attributes.get(".CMnt", ("", span))[0].lower()
    place = layer.text.place(*part.span)
    values = _values(layer, part, result)
    if mount == "fiducial":
        skipped.append(Skipped(place.line, reference, "fiducial"))
        result.fiducials[reference] = values
        return
    if reference in result.rows:
        first = result.cells.rows[reference]
        result.repeated.setdefault(reference, [first]).append(part.span[0])
        return
    if mount in _THROUGH:
        values["fitted"] = False
    result.rows[reference] = values
    result.cells.rows[reference] = part.span[0]
    result.named[reference] = _named(layer, part)
    _note_places(layer, part, result)


def _values(layer: _Layer, part: _Part, result: List) -> dict[str, Any]:
    reference = part.attributes[".C"][0]
    if ".CRot" not in part.attributes:
        says = f"{reference} has no rotation (.CRot)."
        raise layer.fault(part.span, says, "Export the layer with rotations.")
    text, span = part.attributes[".CRot"]
    try:
        rotation = finite(text)
    except ValueError:
        raise layer.fault(span, f"{text!r} is not a rotation.", "Correct it.") from None
    values: dict[str, Any] = {
        "x": _mm(layer, part.at[0], result, 0),
        "y": _mm(layer, part.at[1], result, 1),
        "rotation": rotation,
        "side": layer.side,
    }
    pins = layer.pins.get(reference, {})
    first = next((pins[pin] for pin in _FIRST_PINS if pin in pins), None)
    if first:
        values["pin1_x"] = _mm(layer, first[0], result, 0)
        values["pin1_y"] = _mm(layer, first[1], result, 1)
    return values


def _mm(layer: _Layer, value: float, result: List, axis: int) -> float | int:
    assert layer.unit is not None
    return round(moved(value, MM_PER_UNIT[layer.unit], result.cells.origin_mm[axis]), 6)


def _named(layer: _Layer, part: _Part) -> PartName:
    def said(name: str) -> str:
        return part.attributes[name][0] if name in part.attributes else ""

    height = None
    if ".CHgt" in part.attributes:
        text, span = part.attributes[".CHgt"]
        try:
            height = float(moved(finite(text), MM_PER_UNIT[layer.unit or "mm"], 0))
        except ValueError:
            raise layer.fault(span, f"{text!r} is not a height.", "Correct it.") from None
    pins = len(layer.pins.get(part.attributes[".C"][0], {}))
    footprint = said(".CFtp") or said(".CPgN")
    return PartName(said(".CVal"), footprint, said(".CMPN"), height, pins or None)


def _note_places(layer: _Layer, part: _Part, result: List) -> None:
    cells = result.cells
    assert isinstance(cells, SpanCells)
    reference, span = part.attributes[".C"]
    cells.note(reference, "reference", span)
    for column in ("x", "y"):
        cells.note(reference, column, part.span)
    for column, name in (("rotation", ".CRot"), ("part", ".CVal"), ("fitted", ".CMnt")):
        if name in part.attributes:
            cells.note(reference, column, part.attributes[name][1])
    pins = layer.pins.get(reference, {})
    first = next((pins[pin] for pin in _FIRST_PINS if pin in pins), None)
    for column in ("pin1_x", "pin1_y") if first else ():
        assert first is not None
        cells.note(reference, column, first[2])
