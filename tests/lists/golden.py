"""Lists with their expected readings, found beside each other: `NAME.csv` and `NAME.csv.json`."""

import json
import pathlib
from dataclasses import dataclass
from typing import Any

from jobcheck.sources.lists.options import options_of
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.sources.lists.reading import List
from jobcheck.text import NotUnderstood

CASES = pathlib.Path(__file__).parent / "cases"


@dataclass(frozen=True)
class Case:
    """One list and what it is expected to say."""

    file: pathlib.Path

    @property
    def name(self) -> str:
        return self.file.stem

    @property
    def expected(self) -> dict[str, Any]:
        text = self.file.with_name(self.file.name + ".json").read_text("utf-8")
        return dict(json.loads(text))

    def read(self) -> List:
        options = options_of(self.expected["options"])
        return read_placement_list(self.file.read_bytes(), self.file.name, options)


def all_cases() -> list[Case]:
    files = sorted(CASES.iterdir())
    return [Case(file) for file in files if file.suffix != ".json"]


def said(case: Case) -> dict[str, Any]:
    """What a list says, in the form of its expected reading."""
    expected = case.expected
    try:
        read = case.read()
    except NotUnderstood as error:
        fault = error.fault
        return {"refused": {"line": fault.place.line, "says": fault.message}}
    return {
        "rows": read.rows,
        "named": {k: [n.value, n.footprint, n.maker_number] for k, n in read.named.items()},
        "skipped": {str(row.line): row.why for row in read.skipped},
        "fiducials": read.fiducials,
        "repeated": {reference: len(starts) for reference, starts in read.repeated.items()},
        "format": {key: getattr(read.format, key) for key in expected.get("format", {})},
    }
