"""Findings for programs: JSON, and SARIF 2.1.0."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any
from urllib.parse import quote

from jobcheck import __version__
from jobcheck.commands.lint import LintedShop
from jobcheck.findings import Command, Finding, Level, Unchecked
from jobcheck.reports.calls import Call
from jobcheck.shop.paths import show
from jobcheck.shop.places import Place

SARIF_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"


def lint_data(shops: Sequence[LintedShop], call: Call) -> dict[str, Any]:
    """Return linted shops as JSON data; `call` is how proposed commands are typed."""
    return {"jobcheck": __version__, "shops": [_shop(shop, call) for shop in shops]}


def _shop(shop: LintedShop, call: Call) -> dict[str, Any]:
    here = call.about(shop.root)
    return {
        "name": shop.reading.state.name,
        "folder": call.path(shop.root),
        "state": shop.reading.state.label,
        "files": list(shop.reading.files),
        "placements": shop.placements,
        "known_good": shop.known_good.title or None,
        "counts": {level.value: shop.counted(level) for level in Level},
        "findings": [_finding(finding, here) for finding in shop.findings],
        "not_checked": [_unchecked(one) for one in shop.not_checked],
        "disabled": [one._asdict() for one in shop.disabled],
        "wider_limits": [one._asdict() for one in shop.loosened],
    }


def _unchecked(one: Unchecked) -> dict[str, Any]:
    return {
        "rule": one.rule,
        "concerns": one.concerns,
        "cause": one.cause,
        "enabled_by": one.enabled_by,
        "count": one.amount,
        "paths": [show(path) for path in one.paths],
    }


def _finding(finding: Finding, call: Call) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level.value,
        "accepted": finding.accepted,
        "path": show(finding.path),
        **_place(finding.place),
        "message": finding.message,
        "observed": finding.observed or None,
        "expected": finding.expected or None,
        "consequence": finding.consequence,
        "remedy": [_step(step, call) for step in finding.remedy],
        "related": [{"path": show(path), **_place(place)} for place, path in finding.related],
    }


def _step(step: str | Command, call: Call) -> dict[str, Any]:
    if isinstance(step, str):
        return {"text": step}
    return {"command": call.arguments(step), "line": call.typed(step)}


def _place(place: Place) -> dict[str, Any]:
    return {
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "start": place.start,
        "end": place.end,
    }


def lint_sarif(
    shops: Sequence[LintedShop], summaries: Mapping[str, str], call: Call
) -> dict[str, Any]:
    """Return linted shops as one SARIF 2.1.0 run; `summaries` says what each rule checks.

    Source: OASIS SARIF 2.1.0, sections 3.13, 3.27 and, for what is not checked, 3.58.
    """
    names = sorted({finding.rule for shop in shops for finding in shop.findings})
    run = {
        "tool": {
            "driver": {
                "name": "jobcheck",
                "version": __version__,
                "rules": [
                    {
                        "id": name,
                        "shortDescription": {"text": summaries[name]},
                        "help": {"text": f"{summaries[name]}\nMore: jobcheck explain {name}"},
                    }
                    for name in names
                ],
            }
        },
        "columnKind": "unicodeCodePoints",
        "invocations": [
            {
                "executionSuccessful": True,
                "toolExecutionNotifications": [
                    _notification(shop, one, call.about(shop.root))
                    for shop in shops
                    for one in shop.not_checked
                ],
            }
        ],
        "results": [
            _result(shop, finding, names, call.about(shop.root))
            for shop in shops
            for finding in shop.findings
        ],
    }
    return {"$schema": SARIF_SCHEMA, "version": "2.1.0", "runs": [run]}


def _notification(shop: LintedShop, one: Unchecked, call: Call) -> dict[str, Any]:
    places = [(shop.reading.places.of(path), show(path)) for path in one.paths]
    return {
        "level": "note",
        "descriptor": {"id": one.rule},
        "message": {"text": f"Not checked: {one.concerns}: {one.cause}"},
        "locations": [_location(shop, place, path, call) for place, path in places],
        "properties": {"enabledBy": one.enabled_by},
    }


def _result(shop: LintedShop, finding: Finding, names: list[str], call: Call) -> dict[str, Any]:
    result: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": names.index(finding.rule),
        "level": finding.level.value,
        "message": {"text": sentences(finding, call)},
        "partialFingerprints": {"rulePath/v1": _fingerprint(finding)},
        "locations": [_location(shop, finding.place, show(finding.path), call)],
    }
    commands = [_step(step, call) for step in finding.remedy if isinstance(step, Command)]
    if commands:
        result["properties"] = {"commands": commands}
    if finding.related:
        result["relatedLocations"] = [
            _location(shop, place, show(path), call) for place, path in finding.related
        ]
    if finding.accepted:
        result["suppressions"] = [{"kind": "external", "status": "accepted"}]
    return result


def _fingerprint(finding: Finding) -> str:
    """Return what a finding keeps when lines are added above it: its rule and its path."""
    return sha256(f"{finding.rule} {show(finding.path)}".encode()).hexdigest()[:32]


def sentences(finding: Finding, call: Call) -> str:
    """Write a finding as one paragraph: message, consequence, and what to do."""
    steps = (step if isinstance(step, str) else f"`{call.typed(step)}`" for step in finding.remedy)
    return " ".join(filter(None, (finding.message, finding.consequence, *steps)))


def _location(shop: LintedShop, place: Place, path: str, call: Call) -> dict[str, Any]:
    location: dict[str, Any] = {
        "physicalLocation": {
            "artifactLocation": {"uri": quote(call.path(shop.root / place.file))},
            "region": {
                "startLine": place.line,
                "startColumn": place.column,
                "byteOffset": place.start,
                "byteLength": place.end - place.start,
            },
        }
    }
    if path:
        location["logicalLocations"] = [{"fullyQualifiedName": path}]
    return location
