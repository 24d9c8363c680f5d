"""Shops made by editing the starter shop: the form in which rules give their examples."""

import copy
import json
from datetime import date
from pathlib import Path as FilePath
from typing import Any

import jobcheck.commands
from jobcheck.description.paths import parse
from jobcheck.description.shop import Shop
from jobcheck.rules.base import Inspection
from jobcheck.rules.registry import RULES
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state import HeldFiles, State, folder_state
from jobcheck.sources.yaml_reader import read_yaml

TODAY = date(2026, 11, 25)
STARTER = FilePath(jobcheck.commands.__file__).parent / "starter"
PARTS = ("outlines", "recognitions", "parts")


def starter() -> Reading:
    """Read the starter shop."""
    return read_shop(folder_state(STARTER))


def edited(edits: str, base: Reading | None = None) -> Reading:
    """Read the starter shop (or another) with lines `path: value` put into it."""
    shop = (base or starter()).shop
    assert shop is not None
    plain = copy.deepcopy(shop.plain)
    for line in filter(str.strip, edits.splitlines()):
        path, _, value = line.partition(": ")
        _put(plain, list(parse(path.strip().removesuffix(":"))), _value(value.strip()))
    reading = read_shop(State("edited", HeldFiles(_files(plain)), shop.name))
    assert not reading.faults, reading.faults
    return reading


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


def _files(plain: dict[str, Any]) -> dict[str, bytes]:
    rest = {k: v for k, v in plain.items() if k not in ("shop", "jobs", "feeders", *PARTS)}
    files = {
        "shop.yaml": {
            **plain["shop"],
            "machine": "placer.yaml",
            "parts": ["parts.yaml"],
            "feeders": ["feeders.yaml"],
            "jobs": ["jobs/*/job.yaml"],
        },
        "placer.yaml": {"describes": "machine", "edition": 1, **rest},
        "parts.yaml": _kind("parts", {key: plain.get(key, {}) for key in PARTS}),
        "feeders.yaml": _kind("feeders", {"feeders": plain.get("feeders", {})}),
    }
    for name, job in plain["jobs"].items():
        inline = {
            key: {k: v for k, v in block.items() if k not in ("file", "columns", "units")}
            for key in ("placements", "bill")
            if (block := job.get(key))
        }
        files[f"jobs/{name}/job.yaml"] = {**job, **inline}
    return {name: json.dumps(content, indent=1).encode() for name, content in files.items()}


def _kind(kind: str, content: dict[str, Any]) -> dict[str, Any]:
    return {"describes": kind, "edition": 1, **content}


def linted(reading: Reading, good: Shop | None = None, today: date = TODAY) -> Outcome:
    """Run all rules over a reading."""
    assert reading.shop is not None
    return run_rules(Inspection(reading.shop, today, lambda: good), RULES, reading.places)
