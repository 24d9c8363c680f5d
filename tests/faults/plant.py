"""What a planted fault is, and planting it: which rules find it."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path as FilePath

from jobcheck.changes.diff import diff
from jobcheck.commands.lint import lint_state
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import RULES
from jobcheck.rules.run import run_rules
from jobcheck.shop.paths import Path
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.faults.scene import Files, Scene
from tests.faults.shops import Base
from tests.support.edited import files_of, with_controller
from tests.support.generate import with_record

MOST_RULES = 2
"""How many rules may tell of one fault."""


@dataclass(frozen=True)
class Fault:
    """A fault: what it is in words, what it does to a shop, and the rule that names its cause.

    With `compares` the clean shop is the known-good record. `files` spoils the bytes of files
    after the edit, `controller` is what the controller's own file says otherwise. With `is_change`
    it is the diff against the clean shop that must name it, by its kind of change. With
    `has_record` the shop has a known-good record of itself before its files are spoiled.
    """

    rule: str
    words: str
    edit: Callable[[Scene], object] = lambda scene: None
    compares: bool = False
    files: Callable[[Files, Scene], object] | None = None
    is_change: bool = False
    has_record: bool = False
    controller: Callable[[Scene], dict[Path, object]] | None = None


@dataclass(frozen=True)
class Planted:
    """A fault in one shop, and the names of the rules that told of it."""

    fault: Fault
    base: Base
    names: tuple[str, ...]

    @property
    def is_found(self) -> bool:
        """Whether the rule that names the cause tells of it."""
        return self.fault.rule in self.names

    @property
    def beside(self) -> int:
        """How many other rules tell of it."""
        return sum(name != self.fault.rule for name in self.names)

    @property
    def is_right(self) -> bool:
        """Whether it is found, and by no more rules than it may be."""
        return self.is_found and len(self.names) <= MOST_RULES


def plant(fault: Fault, base: Base) -> Planted:
    """Plant a fault into a copy of a clean shop and look which rules tell of it."""
    scene = base.scene()
    try:
        fault.edit(scene)
        files = files_of(scene.plain, indent=None)
        files = with_record(files) if fault.has_record else files
        if fault.files:
            fault.files(files, scene)
    except (LookupError, StopIteration, TypeError, ValueError, AttributeError) as error:
        raise RuntimeError(f"cannot plant into {base.name}: {fault.words}") from error
    # As in the index: there the records belong to the state, not to a folder.
    state = State("staged", HeldFiles(files), base.reading.state.name)
    reading = read_shop(state, base.reading)
    if fault.controller:
        reading = with_controller(reading, fault.controller(scene))
    names = _kinds(base, reading) if fault.is_change else _rules(fault, base, reading)
    return Planted(fault, base, tuple(dict.fromkeys(names)))


def _kinds(base: Base, reading: Reading) -> list[str]:
    assert base.reading.shop
    assert reading.shop
    return [change.kind.value for change in diff(base.reading.shop, reading.shop)]


def _rules(fault: Fault, base: Base, reading: Reading) -> list[str]:
    if fault.has_record:
        shop = lint_state(FilePath(base.name), reading.state, RULES, base.today)
        return [finding.rule for finding in shop.open]
    told = [found.rule for found in reading.faults]
    if reading.shop is None:
        return told
    good = base.reading.shop if fault.compares else None
    inspection = Inspection(reading.shop, base.today, lambda: good)
    return told + [finding.rule for finding in run_rules(inspection, RULES, reading.places.of).open]
