"""What a rule reports."""

from enum import StrEnum
from typing import NamedTuple

from jobcheck.description.paths import Path


class Level(StrEnum):
    """How much a finding weighs: the SARIF levels."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the heaviest."""
        return list(Level).index(self)


class Problem(NamedTuple):
    """What a rule says of one fault, before the rule's name and level are put to it.

    `path` is the value at fault; `also` are other values that it contradicts. `now` and `good` show
    values, `so` what would happen on the machine, `do` the remedy. `tells` are findings of other
    rules that follow from this one and are told inside it: (rule, path at or above theirs).
    """

    path: Path
    says: str
    so: str
    do: str
    now: str = ""
    good: str = ""
    also: tuple[Path, ...] = ()
    tells: tuple[tuple[str, Path], ...] = ()
    level: Level | None = None


class Place(NamedTuple):
    """Where a value stands: file, line and column from 1 in code points, bytes from 0.

    `start` and `end` are the bytes of the value itself; both are equal where it stands for
    something missing or for a whole file.
    """

    file: str
    line: int = 1
    column: int = 1
    start: int = 0
    end: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class Finding(NamedTuple):
    """A problem with its rule, its level and its places."""

    rule: str
    level: Level
    place: Place
    path: Path
    says: str
    so: str
    do: str
    now: str = ""
    good: str = ""
    also: tuple[tuple[Place, Path], ...] = ()
    accepted: bool = False

    @property
    def order(self) -> tuple[object, ...]:
        """Files in their order, then by place; equal findings are equal in every member."""
        return (self.place, self.rule, self.path, self.says, self.also)


class Fault(NamedTuple):
    """Why a file could not be understood: where, what, and the remedy."""

    place: Place
    rule: str
    says: str
    do: str
    path: Path = ()
