"""What a rule reports."""

from enum import StrEnum
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
