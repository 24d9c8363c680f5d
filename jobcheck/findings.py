"""Findings and their remedies, as data. Only reports put them into words."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place


class Level(StrEnum):
    """How much a finding weighs: the SARIF levels."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the heaviest."""
        return list(Level).index(self)


class Command(NamedTuple):
    """A command to type, as a list of arguments.

    `program` is empty for jobcheck itself: a report adds how it was called, and `--shop` where it
    is needed. An argument in capitals, such as `TEXT`, is for the user to fill in. `files` come
    after the arguments: a report writes them as they are found from the user's folder.
    """

    arguments: tuple[str, ...]
    program: str = ""
    files: tuple[FilePath, ...] = ()

    def adding(self, *arguments: str) -> Command:
        """Return the command with more arguments."""
        return self._replace(arguments=(*self.arguments, *arguments))


def command(*arguments: str) -> Command:
    """Return a command of jobcheck: `command("restore", "cameras.up")`."""
    return Command(arguments)


def command_of(program: str, *arguments: str) -> Command:
    """Return a command of another program: `command_of("git", "add", "placer.yaml")`."""
    return Command(arguments, program)


Remedy = tuple[str | Command, ...]
"""What to do: sentences, and commands between them."""


def sentences(remedy: Remedy) -> str:
    """Return the sentences of a remedy, without its commands."""
    return " ".join(step for step in remedy if isinstance(step, str))


class CallRefused(Exception):
    """A refused call: the message gives the reason, `remedy` the alternative."""

    def __init__(self, message: str, *remedy: str | Command) -> None:
        """Keep the message and the remedy."""
        super().__init__(message)
        self.remedy: Remedy = remedy


class Problem(NamedTuple):
    """A rule's description of one fault; it becomes a Finding with its rule, level and places.

    `path` is the value at fault, `related` are values that it contradicts. `suppresses` are
    findings of other rules that follow from this one: (rule, path at or above theirs). `is_loss`:
    the record had the value; `keep --on-purpose` may name the loss.
    """

    path: Path
    message: str
    consequence: str
    remedy: Remedy
    observed: str = ""
    expected: str = ""
    related: tuple[Path, ...] = ()
    suppresses: tuple[tuple[str, Path], ...] = ()
    level: Level | None = None
    is_loss: bool = False


class Related(NamedTuple):
    """A value that a finding contradicts, and where it is."""

    place: Place
    path: Path


class Finding(NamedTuple):
    """A fault with its rule, its level and its places.

    `message` says what is wrong, `observed` and `expected` give values, `consequence` says what
    would happen on the machine, `remedy` what to do.
    """

    rule: str
    level: Level
    place: Place
    path: Path
    message: str
    consequence: str
    remedy: Remedy
    observed: str = ""
    expected: str = ""
    related: tuple[Related, ...] = ()
    accepted: bool = False
    is_loss: bool = False

    @property
    def order(self) -> tuple[object, ...]:
        """Files in their order, then by place; equal findings are equal in every member."""
        return (self.place, self.rule, self.path, self.message, self.related)


class Unchecked(NamedTuple):
    """A check that a rule could not make because a value is missing.

    `cause` says what is missing, and of what: `no remaining on f31, f32`. `concerns` says what was
    not checked: `stock of 2 feeders`. `paths` are the values that would enable the check,
    `enabled_by` is the key to write there, `amount` is how many values or parts it concerns.
    """

    concerns: str
    cause: str
    enabled_by: str
    paths: tuple[Path, ...]
    amount: int = 1
    rule: str = ""


_NOT_USED = "Its values are not used, so they are not checked either."


def fault(place: Place, rule: str, message: str, remedy: str | Remedy, path: Path = ()) -> Finding:
    """Return the finding about something unreadable: an error."""
    what = (remedy,) if isinstance(remedy, str) else remedy
    return Finding(rule, Level.ERROR, place, path, message, _NOT_USED, what)
