"""Same input, same findings, same order: whatever the hash seed, locale, folder, order of keys."""

import copy
import csv
import io
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path as FilePath
from random import Random
from typing import Any

import pytest

from jobcheck.findings import Finding
from jobcheck.rules.registry import RULES
from jobcheck.shop.classes import text_keys
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import Files, HeldFiles, State, folder_state
from jobcheck.sources.yaml.reader import read_yaml
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

ROOT = FilePath(__file__).resolve().parents[1]
EXAMPLES = ROOT / "examples"


def drifted(examples: FilePath = EXAMPLES) -> tuple[Reading, Shop | None]:
    """Read the example that had bad days, and the one that it was."""
    return read_shop(folder_state(examples / "soil-logger-drifted")), good(examples)


def good(examples: FilePath = EXAMPLES) -> Shop | None:
    return read_shop(folder_state(examples / "soil-logger")).shop


def every_finding(examples: FilePath = EXAMPLES) -> str:
    """Return what all rules say of the drifted example and of each rule's failing example."""
    found = list(linted(*drifted(examples)).findings)
    for rule in RULES:
        known = starter().shop if rule.compares else None
        found += linted(edited(rule.fails), known).findings
    return "\n".join(map(repr, found))


@pytest.mark.parametrize(
    ("seed", "locale", "zone"), [("0", "C", "UTC"), ("1", "C.UTF-8", "Pacific/Auckland")]
)
def test_findings_and_their_order_hang_on_the_input_alone(
    tmp_path: FilePath, seed: str, locale: str, zone: str
) -> None:
    """Another process, folder, hash seed, locale and time zone say the same to the letter."""
    elsewhere = tmp_path / "other place"
    shutil.copytree(EXAMPLES, elsewhere)
    program = (
        "import sys; from pathlib import Path; from tests.test_determinism import every_finding;"
        "sys.stdout.buffer.write(every_finding(Path(sys.argv[1])).encode())"
    )
    surroundings = {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(ROOT),
        "PYTHONHASHSEED": seed,
        "LC_ALL": locale,
        "TZ": zone,
    }
    said = subprocess.run(
        [sys.executable, "-c", program, str(elsewhere)],
        cwd=tmp_path,
        env=surroundings,
        capture_output=True,
    )
    assert said.stderr == b""
    assert said.stdout.decode() == every_finding()


def shuffled(reading: Reading, draw: Random) -> Reading:
    """Read a shop again with the keys of every mapping and the rows of every list in disorder."""
    kept = {name: reading.state.files[name] for name in _in_order(reading)}
    files = {name: _shuffled_file(name, reading.state.files, draw) for name in reading.files} | kept
    again = read_shop(State(reading.state.label, HeldFiles(files), reading.state.name))
    assert not again.faults, again.faults
    assert again.shop is not None
    says = list(reading.shop.controller) if reading.shop else []
    draw.shuffle(says)
    return replace(again, shop=replace(again.shop, controller=tuple(says)))


def _in_order(reading: Reading) -> list[str]:
    """Return the lists whose order is itself described: that of placing."""
    jobs = reading.shop.jobs if reading.shop else {}
    is_listed = any(job.order == "as-listed" for job in jobs.values())
    return [name for name in reading.files if is_listed and name.endswith("placements.csv")]


def _shuffled_file(name: str, files: Files, draw: Random) -> bytes:
    if name.endswith(".csv"):
        head, *rows = csv.reader(io.StringIO(files[name].decode()))
        draw.shuffle(rows)
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows([head, *rows])
        return text.getvalue().encode()
    kind = read_yaml(files[name], name).plain["describes"]
    plain = read_yaml(files[name], name, text_keys(kind)).plain
    document = _shuffled(copy.deepcopy(plain), draw)
    return json.dumps(document, default=str).encode()


def _shuffled(value: Any, draw: Random) -> Any:
    if isinstance(value, dict):
        items = [(key, _shuffled(item, draw)) for key, item in value.items()]
        draw.shuffle(items)
        return dict(items)
    return [_shuffled(item, draw) for item in value] if isinstance(value, list) else value


def said(findings: tuple[Finding, ...]) -> list[str]:
    """Return what findings say, without the places that a shuffle moves, in one order."""
    return sorted(
        repr(
            (
                *(finding.rule, finding.level, finding.path, finding.message, finding.observed),
                *(
                    finding.expected,
                    finding.consequence,
                    in_words(finding.remedy),
                    [path for _, path in finding.related],
                ),
            )
        )
        for finding in findings
    )


@pytest.mark.parametrize("seed", range(3))
def test_order_of_keys_does_not_matter_to_the_drifted_example(seed: int) -> None:
    reading, known = drifted()
    again = linted(shuffled(reading, Random(seed)), known)
    assert said(again.findings) == said(linted(reading, known).findings)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_order_of_keys_does_not_matter_to_a_rule(rule: Any) -> None:
    known = starter().shop if rule.compares else None
    reading = edited(rule.fails)
    before = said(linted(reading, known).findings)
    for seed in range(3):
        assert said(linted(shuffled(reading, Random(seed)), known).findings) == before


def test_order_of_keys_does_not_bring_findings_to_the_clean_example() -> None:
    reading = read_shop(folder_state(EXAMPLES / "soil-logger"))
    assert linted(shuffled(reading, Random(5))).findings == ()
