"""Shops made by editing the starter shop: the form in which rules give their examples."""

import copy
import csv
import io
import json
import re
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path as FilePath
from tempfile import TemporaryDirectory
from typing import Any

import jobcheck.commands
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import BY_NAME, RULES
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.schema.job import Bill, Placements
from jobcheck.shop.paths import parse
from jobcheck.shop.shop import ControllerValue, Shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from jobcheck.sources.yaml.reader import read_yaml

TODAY = date(2026, 11, 25)
STARTER = FilePath(jobcheck.commands.__file__).parent / "starter"
PARTS = ("outlines", "recognitions", "parts")


def starter() -> Reading:
    """Read the starter shop as if every value in it had been measured."""
    with TemporaryDirectory() as folder:
        measured_starter(FilePath(folder) / "starter")
        files = dict(folder_state(FilePath(folder) / "starter").files.items())
    return read_shop(State("now", HeldFiles(files), "starter"))


def measured_starter(folder: FilePath) -> None:
    """Copy the starter shop without its marks, as if every value had been measured."""
    shutil.copytree(STARTER, folder)
    for file in folder.rglob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        text = re.sub(r"^ *derived: .*\n", "", text, flags=re.MULTILINE)
        file.write_text(re.sub(r", derived: \{[^}]*\}", "", text), encoding="utf-8")


def edited(edits: str, base: Reading | None = None) -> Reading:
    """Read the starter shop (or another) with lines `path: value` put into it."""
    reading = _read_with(edits, base)
    assert not reading.faults, reading.faults
    return reading


def edited_shop(edits: str) -> Shop:
    """Return the starter shop with lines `path: value` put into it."""
    shop = edited(edits).shop
    assert shop is not None
    return shop


def damaged(edits: str) -> Reading:
    """Read the starter shop with lines put into it that cannot be understood."""
    reading = _read_with(edits, None)
    assert reading.faults
    return reading


def _read_with(edits: str, base: Reading | None) -> Reading:
    shop = (base or starter()).shop
    assert shop is not None
    plain = copy.deepcopy(shop.plain)
    controller: dict[tuple[str, ...], Any] = {}
    for line in filter(str.strip, edits.splitlines()):
        text, _, value = line.partition(": ")
        path = parse(text.strip().removesuffix(":"))
        if path[0] == "controller":
            controller[path[1:]] = _value(value.strip())
        else:
            _put(plain, list(path), _value(value.strip()))
    reading = read_shop(State("edited", HeldFiles(files_of(plain)), shop.name))
    return with_controller(reading, controller)


def with_controller(reading: Reading, says: dict[tuple[str, ...], Any]) -> Reading:
    """Return a reading whose shop was compared with a controller's file that says so."""
    if reading.shop is None or not says:
        return reading
    differing = tuple(
        ControllerValue(path, "controller.json", value)
        for path, value in says.items()
        if reading.shop.plain_at(path) != value
    )
    return replace(reading, shop=replace(reading.shop, controller=differing))


def _value(text: str) -> Any:
    return read_yaml(f"value: {text}\n".encode(), "example").plain["value"] if text else {}


def _put(plain: Any, path: list[str], value: Any) -> None:
    for key in path[:-1]:
        plain = plain[int(key)] if isinstance(plain, list) else plain.setdefault(key, {})
    if value is None:
        assert path[-1] in plain, f"nothing to take away at {path}"
        del plain[path[-1]]
    else:
        plain[int(path[-1]) if isinstance(plain, list) else path[-1]] = value


def files_of(plain: dict[str, Any], indent: int | None = 1) -> dict[str, bytes]:
    """Return the files of a shop by its plain values; without an indent each on one line."""
    rest = {k: v for k, v in plain.items() if k not in ("shop", "jobs", "feeders", *PARTS)}
    files = {
        "shop.yaml": {
            **plain["shop"],
            "machine": "placer.yaml",
            "parts": ["parts.yaml"],
            "feeders": ["feeders.yaml"] if plain["shop"].get("feeders", True) else [],
            "jobs": ["jobs/*/job.yaml"],
        },
        "placer.yaml": {"describes": "machine", "edition": 1, **rest},
        "parts.yaml": _kind("parts", {key: plain.get(key, {}) for key in PARTS}),
        "feeders.yaml": _kind("feeders", {"feeders": plain.get("feeders", {})}),
    }
    lists: dict[str, bytes] = {}
    for name, job in plain["jobs"].items():
        files[f"jobs/{name}/job.yaml"] = job = dict(job)
        for key, model in (("placements", Placements), ("bill", Bill)):
            block = job.get(key) or {}
            if "file" in block:
                rows = {k: v for k, v in block.items() if k not in model.model_fields}
                job[key] = {k: v for k, v in block.items() if k in model.model_fields}
                lists[f"jobs/{name}/{block['file']}"] = _list(rows, block.get("columns", {}))
    written = {name: json.dumps(content, indent=indent) for name, content in files.items()}
    return {name: text.encode() for name, text in written.items()} | lists


def _list(rows: dict[str, dict[str, Any]], named: dict[str, str]) -> bytes:
    """Write rows by reference as CSV; a value that a row lacks is an empty cell."""
    columns = ["part", *dict.fromkeys(key for row in rows.values() for key in row if key != "part")]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(named.get(column, column) for column in ("reference", *columns))
    for reference, row in rows.items():
        writer.writerow([reference, *(row.get(column) for column in columns)])
    return text.getvalue().encode()


def _kind(kind: str, content: dict[str, Any]) -> dict[str, Any]:
    return {"describes": kind, "edition": 1, **content}


def linted(reading: Reading, good: Shop | None = None, today: date = TODAY) -> Outcome:
    """Run all rules over a reading."""
    assert reading.shop is not None
    outcome = run_rules(Inspection(reading.shop, today, lambda: good), RULES, reading.places.of)
    for finding in outcome.findings:
        levels = BY_NAME[finding.rule].levels
        assert finding.level in levels, f"{finding.rule} does not declare {finding.level}"
    return outcome
