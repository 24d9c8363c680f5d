"""A saved listing of a device's V4L2 controls, as the system's usual tool prints it.

A control is one line, `name 0x00980900 (int) : min=0 max=255 step=1 default=128 value=128`, with
the number and some of the figures left out by older versions; the lines of a menu stand below it.
The form is that of the manual page of v4l2-ctl (options --list-ctrls and --list-ctrls-menus).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from jobcheck.findings import fault
from jobcheck.text import NotUnderstood, Text

_CONTROL = re.compile(
    r"\s*(?P<name>[a-z0-9_]+)\s+(?:0x[0-9a-fA-F]+\s+)?\((?P<kind>\w+)\)\s*:(?P<rest>.*)"
)
_FIGURE = re.compile(r"\b(min|max|step|default|value)=(-?\d+|0x[0-9a-fA-F]+)")
_FLAGS = re.compile(r"\bflags=([\w, -]+)")
_MENU_LINE = re.compile(r"\s+(\d+):\s+(\S.*)")
_BOOLEAN = {"min": 0, "max": 1, "step": 1}


@dataclass(frozen=True)
class ListedControl:
    """One control as the device reports it; what the listing leaves out is None."""

    line: int
    kind: str
    min: int | None = None
    max: int | None = None
    step: int | None = None
    default: int | None = None
    value: int | None = None
    flags: tuple[str, ...] = ()
    menu: dict[str, str] = field(default_factory=dict)

    @property
    def is_inactive(self) -> bool:
        """Whether an automatic overrides it at present."""
        return "inactive" in self.flags


def read_listing(data: bytes, file: str) -> dict[str, ListedControl]:
    """Return the controls of a listing by name, in its order.

    Raises:
        NotUnderstood: no control stands in it, or one stands twice (two devices in one file).
    """
    text = Text(data, file)
    controls: dict[str, ListedControl] = {}
    last: str | None = None
    for number, line in enumerate(text.text.splitlines(), 1):
        found = _CONTROL.fullmatch(line)
        if found:
            last = found["name"]
            if last in controls:
                raise _refused(text, number, f"The control {last} is listed twice.", _ONE_DEVICE)
            controls[last] = _control(found, number)
        elif last and (choice := _MENU_LINE.fullmatch(line)):
            controls[last].menu[choice[1]] = choice[2].strip()
    if not controls:
        says = f"{file} lists no control of a device."
        do = "Save what `v4l2-ctl --device /dev/videoN --list-ctrls-menus` prints."
        raise _refused(text, 1, says, do)
    return controls


_ONE_DEVICE = "Save the listing of one device a file."


def _refused(text: Text, line: int, says: str, do: str) -> NotUnderstood:
    start = text.line_starts[line - 1] if line <= len(text.line_starts) else 0
    return NotUnderstood(fault(text.place(start, start), "listing-malformed", says, do))


def _control(found: re.Match[str], line: int) -> ListedControl:
    figures: dict[str, Any] = {key: int(value, 0) for key, value in _FIGURE.findall(found["rest"])}
    if found["kind"] == "bool":
        figures = {**_BOOLEAN, **figures}
    flags = _FLAGS.search(found["rest"])
    names = tuple(flag.strip() for flag in flags[1].split(",")) if flags else ()
    return ListedControl(line, found["kind"], flags=names, **figures)
