"""A saved listing of one device, as v4l2-ctl prints it with `--all` or `--list-ctrls-menus`.

A control is one line, `name 0x00980900 (int) : min=0 max=255 step=1 default=128 value=128`, with
the number and some figures left out by older versions; the entries of a menu follow it. Only
`--all` says which device it is. The form is that of the manual page of v4l2-ctl and of what its
version 1.22 prints.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from jobcheck.devices.report import (
    DeviceControl,
    Identity,
    Picture,
    Report,
    by_present_name,
    plug_path,
)
from jobcheck.findings import command_of, fault
from jobcheck.text import NotUnderstood, Text

_CONTROL = re.compile(
    r"\s*(?P<name>[a-z0-9_]+)\s+(?:0x[0-9a-fA-F]+\s+)?\((?P<kind>\w+)\)\s*:(?P<rest>.*)"
)
_FIGURE = re.compile(r"\b(min|max|step|default|value)=(0x[0-9a-fA-F]+|-?\d+)")
_TEXT_VALUE = re.compile(r"\bvalue='(.*)'(?:\s+flags=|\s*$)")
_FLAGS = re.compile(r"\bflags=((?:[a-z-]+)(?:, [a-z-]+)*)")
_MENU_LINE = re.compile(r"\s+(-?\d+):\s+(\S.*)")
_BARE_VALUE = re.compile(r"[a-z0-9_]+: -?\w+")
_ERROR = re.compile(r"error (?P<number>\d+) getting (?:ext_)?ctrl (?P<name>.+)")
_REFUSED = re.compile(r"(?:Cannot|Failed to) open (?:device )?(?P<device>\S+?)[,:]? (?P<why>.*)")
_FACT = re.compile(r"\s*(?P<name>[A-Z][A-Za-z/ ]*?)\s*: ?(?P<value>.*)")
_BOOLEAN = {"min": 0, "max": 1, "step": 1}

HOW_TO_SAVE = command_of("v4l2-ctl", "--device", "/dev/video0", "--all")
"""The command whose output is a whole listing."""

_SAVE = ("Save the whole output of:", HOW_TO_SAVE)


def read_listing(data: bytes, file: str, day: date | None = None) -> Report:
    """Return what a listing says of one device.

    Raises:
        NotUnderstood: it is empty, cut off, of two devices, or not a listing of controls.
    """
    text = Text(data, file)
    reader = _Reader(text)
    for number, line in enumerate(text.text.splitlines(), 1):
        reader.line(number, line)
    if not reader.controls:
        raise reader.without_controls()
    return Report(
        source=file,
        identity=reader.identity(),
        picture=reader.picture(),
        controls=by_present_name(reader.controls),
        day=day,
    )


class _Reader:
    """Reads a listing line by line."""

    def __init__(self, text: Text) -> None:
        self.text = text
        self.controls: dict[str, DeviceControl] = {}
        self.facts: dict[str, str] = {}
        self.last: str | None = None

    def line(self, number: int, line: str) -> None:
        found = _CONTROL.fullmatch(line)
        if found:
            self._control(number, found)
        elif self.last and (choice := _MENU_LINE.fullmatch(line)):
            menu = self.controls[self.last].menu
            assert isinstance(menu, dict)
            menu[choice[1]] = choice[2].strip()
        elif failed := _ERROR.search(line):
            self._failed(failed)
        elif fact := _FACT.fullmatch(line):
            self._fact(number, fact["name"], fact["value"].strip())

    def _control(self, number: int, found: re.Match[str]) -> None:
        name, kind, rest = found["name"], found["kind"], found["rest"]
        if name in self.controls and not self.controls[name].error:
            message = f"The control {name} is listed twice."
            raise self.refused(number, message, _ONE_DEVICE)
        if kind not in ("button",) and "value=" not in rest and "flags=" not in rest:
            raise self.refused(number, f"The line of {name} is cut off.", _SAVE)
        failed = self.controls[name].error if name in self.controls else ""
        self.controls[name] = _control(kind, rest, failed)
        self.last = name

    def _failed(self, failed: re.Match[str]) -> None:
        name = re.sub(r"[^a-z0-9]+", "_", failed["name"].lower()).strip("_")
        error = f"not readable, error {failed['number']}"
        known = self.controls.get(name)
        self.controls[name] = (
            DeviceControl(known.kind, None, known.min, known.max, error=error)
            if known
            else DeviceControl("unknown", error=error)
        )

    def _fact(self, number: int, name: str, value: str) -> None:
        if name == "Driver name" and "Format" in self.facts:
            raise self.refused(number, "A second device begins here.", _ONE_DEVICE)
        if name == "Width/Height":
            self.facts.setdefault("Format", "seen")
        self.facts.setdefault(name, value)

    def identity(self) -> Identity:
        bus = self.facts.get("Bus info", "")
        card = self.facts.get("Card type") or self.facts.get("Model")
        return Identity(
            serial=self.facts.get("Serial") or None,
            port=plug_path(bus) if bus.startswith("usb-") else None,
            card=card or None,
        )

    def picture(self) -> Picture:
        size = re.fullmatch(r"(\d+)/(\d+)", self.facts.get("Width/Height", ""))
        code = re.match(r"'(.{1,4})'", self.facts.get("Pixel Format", ""))
        rate = re.match(r"[\d.]+", self.facts.get("Frames per second", ""))
        return Picture(
            size_px=(int(size[1]), int(size[2])) if size else None,
            pixel_format=code[1].strip() if code else None,
            frame_rate_hz=float(rate[0]) if rate else None,
        )

    def without_controls(self) -> NotUnderstood:
        file, text = self.text.file, self.text.text
        if not text.strip():
            return self.refused(1, f"{file} is empty.", _SAVE)
        refused = _REFUSED.search(text)
        if refused and "ermission" in text:
            return self.refused(
                1,
                f"{file} says that {refused['device']} could not be opened: permission denied.",
                ("The user must be in the group that may open cameras, often `video`.", *_SAVE),
            )
        if refused:
            return self.refused(1, f"{file} says that {refused['device']} is not there.", _SAVE)
        if all(map(_BARE_VALUE.fullmatch, filter(str.strip, text.splitlines()))):
            message = f"{file} has values without their controls, as printed for --get-ctrl."
            return self.refused(1, message, _SAVE)
        return self.refused(1, f"{file} lists no control of a device.", _SAVE)

    def refused(self, line: int, message: str, remedy: Any) -> NotUnderstood:
        starts = self.text.line_starts
        start = starts[line - 1] if line <= len(starts) else 0
        place = self.text.place(start, start)
        return NotUnderstood(fault(place, "listing-malformed", message, remedy))


_ONE_DEVICE = ("Save each device in a file of its own.",)


def _control(kind: str, rest: str, failed: str) -> DeviceControl:
    head = rest.partition("flags=")[0]
    figures: dict[str, Any] = {key: int(value, 0) for key, value in _FIGURE.findall(head)}
    if kind == "bool":
        figures = {**_BOOLEAN, **figures}
    words = _TEXT_VALUE.search(rest) if kind == "str" else None
    if words:
        figures["value"] = words[1]
    flags = _FLAGS.search(rest)
    names = frozenset(flags[1].split(", ")) if flags else frozenset()
    if figures.get("step") == 0:
        figures["step"] = 1  # drivers report it; the kernel's uvc driver takes it as 1
    return DeviceControl(kind, flags=names, menu={}, error=failed, **figures)
