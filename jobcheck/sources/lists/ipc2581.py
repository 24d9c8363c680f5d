"""Placements of an IPC-2581 file: components, their packages, what the bill does not fit.

Source: IPC-2581B, from memory: `Component` (refDes, packageRef, part, layerRef, mountType) with
`Xform` (rotation, counter-clockwise) and `Location`, `Package` with `Pin` and `Location`,
`CadHeader` units, `Layer` side, `BomItem` with `RefDes` and `populate`. The file does not say how
its writer turns parts on the bottom.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from jobcheck.sources.lists.cells import SpanCells
from jobcheck.sources.lists.numbers import finite, moved
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.reading import List, ListFormat, PartName
from jobcheck.sources.lists.refusing import fault_at
from jobcheck.sources.lists.table import Skipped
from jobcheck.sources.lists.words import is_fiducial
from jobcheck.text import NotUnderstood, Text
from jobcheck.trade.plane import turned
from jobcheck.trade.units import MM_PER_UNIT

_Element = Any
"""An element of lxml."""

SHAPE = "IPC-2581"
_UNITS = {"MILLIMETER": "mm", "INCH": "inch", "MICRON": "um"}
_FIRST_PINS = ("1", "A1")
_ROOT = b"<IPC-2581"


def is_ipc2581(data: bytes) -> bool:
    """Tell whether a file's first element is that of IPC-2581."""
    return _ROOT in data[:4096]


def read_ipc2581(data: bytes, file: str, options: ListOptions) -> List:
    """Read the components of the first step; positions are in mm, pads are those of pin 1.

    Raises:
        NotUnderstood: it is not XML, or a component lacks its place or its side.
    """
    text = Text(data, file, options.encoding or "utf-8")
    root = _root(data, text)
    reader = _Reader(root, text, options)
    return reader.read()


def _root(data: bytes, text: Text) -> _Element:
    from lxml import etree

    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        line = max((error.lineno or 1) - 1, 0)
        raise fault_at(
            text, line, f"The file is not XML: {error.msg}.", "Export it again."
        ) from None
    for element in root.iter(etree.Element):
        element.tag = etree.QName(element).localname
    return root


class _Reader:
    """One file while it is read."""

    def __init__(self, root: _Element, text: Text, options: ListOptions) -> None:
        self.root, self.text, self.options = root, text, options
        header = root.find(".//CadHeader")
        unit = _UNITS.get((header.get("units") or "").upper()) if header is not None else None
        if unit is None:
            raise fault_at(text, 0, "No CadHeader names the units.", "Export the file again.")
        self.unit = unit
        self.sides = {e.get("name"): (e.get("side") or "").lower() for e in root.iter("Layer")}
        self.packages = {e.get("name"): e for e in root.iter("Package")}
        self.unfitted = {
            e.get("name")
            for e in root.iter("RefDes")
            if (e.get("populate") or "true").lower() == "false"
        }

    def read(self) -> List:
        cells = SpanCells(self.text)
        cells.origin_mm = self.options.origin_mm
        shape = ListFormat(SHAPE, self.text.encoding, unit=self.unit, unit_from="CadHeader")
        skipped: list[Skipped] = []
        result = List({}, cells, skipped=skipped, format=shape)
        for component in self._components():
            line = min(component.sourceline or 1, len(self.text.line_starts)) - 1
            start = self.text.line_starts[line]
            reference = component.get("refDes") or ""
            named, values = self._named(component), self._values(component, line)
            if is_fiducial(reference, named.value, named.footprint):
                result.fiducials[reference] = values
                result.named[reference] = named
                skipped.append(Skipped(line + 1, reference, "fiducial"))
            elif reference in result.rows:
                first = cells.rows[reference]
                result.repeated.setdefault(reference, [first]).append(start)
            else:
                result.rows[reference], result.named[reference] = values, named
                cells.rows[reference] = start
                cells.note(reference, "reference", (start, start))
        return result

    def _components(self) -> Iterator[_Element]:
        step = self.root.find(".//Step")
        yield from step.iter("Component") if step is not None else ()

    def _fault(self, line: int, says: str) -> NotUnderstood:
        return fault_at(self.text, line, says, "Export the file again.")

    def _values(self, component: _Element, line: int) -> dict[str, Any]:
        reference = component.get("refDes")
        at = component.find("Location")
        side = self.sides.get(component.get("layerRef"), "")
        if not reference or at is None or side not in ("top", "bottom"):
            raise self._fault(line, f"Component {reference} has no reference, place or side.")
        form = component.find("Xform")
        rotation = self._number(form.get("rotation") or "0", line) if form is not None else 0
        x, y = (self._number(at.get(axis) or "", line) for axis in "xy")
        values = {"x": self._mm(x, 0), "y": self._mm(y, 1), "rotation": rotation, "side": side}
        if side == "top" and (pad := self._pin1(component, line)):
            right, up = turned(pad, rotation)
            values |= {"pin1_x": self._mm(x + right, 0), "pin1_y": self._mm(y + up, 1)}
        is_through = (component.get("mountType") or "").upper() == "THMT"
        if is_through or reference in self.unfitted:
            values["fitted"] = False
        return values

    def _pin1(self, component: _Element, line: int) -> tuple[float, float] | None:
        package = self.packages.get(component.get("packageRef"))
        pins = package.iter("Pin") if package is not None else ()
        for pin in pins:
            at = pin.find("Location")
            if pin.get("number") in _FIRST_PINS and at is not None:
                return self._number(at.get("x") or "", line), self._number(at.get("y") or "", line)
        return None

    def _named(self, component: _Element) -> PartName:
        footprint = component.get("packageRef") or ""
        package = self.packages.get(footprint)
        height = package.get("height") if package is not None else None
        pins = len(list(package.iter("Pin"))) if package is not None else 0
        high = float(height) * MM_PER_UNIT[self.unit] if height and _is_positive(height) else None
        return PartName(component.get("part") or "", footprint, "", high, pins or None)

    def _number(self, text: str, line: int) -> float:
        try:
            return finite(text)
        except ValueError:
            raise self._fault(line, f"{text!r} is not a number.") from None

    def _mm(self, value: float, axis: int) -> float:
        scale, origin = MM_PER_UNIT[self.unit], self.options.origin_mm[axis]
        return round(moved(value, scale, origin), 6)


def _is_positive(text: str) -> bool:
    try:
        return 0 < float(text) < math.inf
    except ValueError:
        return False
