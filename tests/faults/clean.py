"""Shops without a fault: whatever lint finds in them is a false alarm."""

from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.commands.lint import lint_state
from jobcheck.rules.registry import RULES
from jobcheck.sources.state.state import HeldFiles, State
from tests.faults.shops import bases
from tests.support.edited import linted
from tests.support.generate import AS_OF, Size, make_files
from tests.support.write_yaml import Style

_SIZES = (Size(), Size(placements=3, parts=3), Size(parts=60, jobs=3), Size(inline=True))


class Alarm(NamedTuple):
    """A rule that finds something where nothing is wrong."""

    shop: str
    rule: str


def false_alarms(shops: int) -> list[Alarm]:
    """Return what is found in the two clean shops and in so many generated ones."""
    found = [
        Alarm(base.name, finding.rule)
        for base in bases()
        for finding in linted(base.reading, today=base.today).findings
    ]
    for seed in range(shops):
        files = make_files(seed, _SIZES[seed % len(_SIZES)], Style.drawn(seed))
        state = State("clean", HeldFiles(files), "generated")
        shop = lint_state(FilePath("generated"), state, RULES, AS_OF)
        found += [Alarm(f"generated {seed}", finding.rule) for finding in shop.findings]
    return found
