"""Remedies in words, for tests that look at one."""

from __future__ import annotations

import shlex

from jobcheck.findings import Command, Remedy


def in_words(remedy: Remedy) -> str:
    """Return a remedy on one line, commands as they are typed."""
    return " ".join(map(_words, remedy))


def _words(step: str | Command) -> str:
    if isinstance(step, str):
        return step
    return shlex.join((step.program or "jobcheck", *step.arguments))
