"""Adding a trial: what was seen of each placement, with the fingerprints of what it depends on."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any, NamedTuple, get_args

from pydantic import ValidationError

from jobcheck.facts.facts import Facts
from jobcheck.facts.proof import fingerprints
from jobcheck.findings import CallRefused
from jobcheck.schema.trial import Observation, Result, TrialKind
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.proposals import write_and_read_back
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite, WriteRefused
from jobcheck.sources.yaml.spelling import block_lines, flow_text, spell_key
from jobcheck.text import NotUnderstood, Text
from jobcheck.wording import near

RESULTS: tuple[str, ...] = get_args(Result)
_NUMBERS = ("x_mm", "y_mm", "turn_deg")
_TEXTS = ("result", "cell", "feeder", "nozzle")

Ask = Callable[[str, str], Mapping[str, Any]]
"""Asks what was seen of a reference of a part: the keys of an observation."""


class AddedTrial(NamedTuple):
    """The new file, and how often each result is in it."""

    job: str
    file: str
    results: Mapping[str, int]


def add_trial(
    root: FilePath,
    job: str,
    kind: TrialKind,
    day: date,
    *,
    seen: FilePath | None = None,
    ask: Ask | None = None,
    note: str | None = None,
) -> AddedTrial:
    """Add a file to `trials/`; without `seen` or `ask` every placement in it is not-seen yet.

    `seen` is a CSV file with the columns reference and result, and those of an observation.

    Raises:
        CallRefused: the job does not exist, the CSV cannot be understood, or the file cannot be
            written.
    """
    shop = understood(read_shop(folder_state(root)))
    require_job(shop, job)
    placed = {reference: placement.part or "" for reference, placement in shop.placed(job)}
    if seen is not None:
        observed = _from_csv(seen, placed, job)
    elif ask is not None:
        observed = {reference: dict(ask(reference, part)) for reference, part in placed.items()}
    else:
        observed = {reference: {"result": "not-seen"} for reference in placed}
    data = _text(shop, job, kind, day, note, observed).encode()
    file, is_there = _file(root, f"trials/{day.isoformat()}-{job}-{kind}", data)
    try:
        write_and_read_back(root, {} if is_there else {file: Rewrite(None, data)})
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
    counted = [entry["result"] for entry in observed.values()]
    results = {result: counted.count(result) for result in RESULTS if result in counted}
    return AddedTrial(job, file, results)


def _file(root: FilePath, stem: str, data: bytes) -> tuple[str, bool]:
    """Return the first free name, or that of a file with the same bytes: a repeated call."""
    files = folder_state(root).files
    for number in range(1, 1000):
        name = f"{stem}.yaml" if number == 1 else f"{stem}-{number}.yaml"
        if name not in files.names(name):
            return name, False
        if files[name] == data:
            return name, True
    raise CallRefused(f"There are 999 trials called {stem}: choose another day.")


def _text(
    shop: Shop,
    job: str,
    kind: TrialKind,
    day: date,
    note: str | None,
    observed: Mapping[str, Mapping[str, Any]],
) -> str:
    """Write the file: one line a placement, then its fingerprints."""
    head: dict[str, Any] = {"describes": "trial", "edition": 1, "job": job, "kind": kind}
    head["date"] = day.isoformat()
    lines = [line for key, value in head.items() for line in block_lines((key,), value)]
    lines += block_lines(("note",), note) if note else ()
    lines += [f"# result: {', '.join(RESULTS)}; x_mm, y_mm, turn_deg: how far it was off"]
    lines += ["placements:"]
    facts = Facts(shop)
    for reference, entry in observed.items():
        under = flow_text(("under",), fingerprints(facts, job, reference))
        lines += [f"  {spell_key(reference)}:"]
        lines += [f"    {line}" for key, v in entry.items() for line in block_lines((key,), v)]
        lines += [f"    under: {under}"]
    return "\n".join(lines) + "\n"


def _from_csv(file: FilePath, placed: Mapping[str, str], job: str) -> dict[str, dict[str, Any]]:
    try:
        text = Text(file.read_bytes(), str(file)).text
    except OSError as error:
        raise CallRefused(f"{file} cannot be read: {error.strerror}.") from None
    except NotUnderstood as error:
        raise CallRefused(f"{error.fault.place}: {error.fault.message}") from None
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    names = [name.strip() for name in reader.fieldnames or ()]
    known = ("reference", *_TEXTS, *_NUMBERS)
    wrong = [name for name in names if name not in known]
    if wrong or not {"reference", "result"} <= {*names}:
        says = f"column {wrong[0]} is unknown" if wrong else "it needs reference and result"
        raise CallRefused(f"{file}: {says}. Columns: {', '.join(known)}.")
    reader.fieldnames = names
    found: dict[str, dict[str, Any]] = {}
    try:
        for row in reader:
            reference, entry = _row(f"{file}:{reader.line_num}", row, placed, job)
            if reference in found:
                raise CallRefused(f"{file}:{reader.line_num}: {reference} is there twice.")
            found[reference] = entry
    except csv.Error as error:
        raise CallRefused(f"{file}:{reader.line_num}: {error}.") from None
    return found


def _row(
    at: str, row: Mapping[str | None, Any], placed: Mapping[str, str], job: str
) -> tuple[str, dict[str, Any]]:
    if None in row:
        raise CallRefused(f"{at}: the row has more cells than there are columns.")
    cells = {key: (value or "").strip() for key, value in row.items() if key is not None}
    reference = cells.pop("reference")
    if reference not in placed:
        like = near(reference, placed)
        hint = f" Near: {like}." if like else ""
        raise CallRefused(f"{at}: {job} places no {reference[:40] or 'such reference'}.{hint}")
    entry: dict[str, Any] = {key: value for key, value in cells.items() if value}
    for key in _NUMBERS:
        if key in entry:
            try:
                entry[key] = float(entry[key].replace(",", "."))
            except ValueError:
                raise CallRefused(f"{at}: {key} is {entry[key][:40]}, not a number.") from None
    return reference, checked(at, entry)


def checked(at: str, entry: dict[str, Any]) -> dict[str, Any]:
    """Return an observation that its model takes.

    Raises:
        CallRefused: it does not.
    """
    if entry.get("result") not in RESULTS:
        got = str(entry.get("result", "missing"))[:40]
        raise CallRefused(f"{at}: result is {got}; write one of {', '.join(RESULTS)}.")
    try:
        Observation.model_validate(entry)
    except ValidationError as error:
        first = error.errors()[0]
        raise CallRefused(f"{at}: {first['loc'][0]}: {first['msg']}.") from None
    return entry
