"""Faults of lists."""

from __future__ import annotations

from jobcheck.findings import fault
from jobcheck.text import NotUnderstood, Text

RULE = "list-malformed"


def fault_at(text: Text, line: int, says: str, do: str, declare: str = "") -> NotUnderstood:
    """Return a fault at the beginning of a line of a text, counted from 0."""
    start = text.line_starts[max(line, 0)]
    return NotUnderstood(fault(text.place(start, start), RULE, says, do), declare)
