"""Findings as JUnit XML: a test case for each rule."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from jobcheck.commands.lint import LintedShop
from jobcheck.findings import Finding, Level
from jobcheck.reports.calls import Call
from jobcheck.reports.data.findings import sentences


def lint_junit(shops: Sequence[LintedShop], rules: Sequence[str], call: Call) -> str:
    """Return linted shops as JUnit XML, each a suite with a case for every rule of `rules`.

    Errors are failures; warnings and notes are in the output of a case that passes. There is no
    official schema; it is valid by that of pytest's own files (junit-10.xsd).
    """
    suites = Element("testsuites")
    for shop in shops:
        by_rule: dict[str, list[Finding]] = {rule: [] for rule in rules}
        for finding in shop.open:
            by_rule.setdefault(finding.rule, []).append(finding)
        failed = sum(any(map(_is_error, found)) for found in by_rule.values())
        name = shop.reading.state.name
        suite = SubElement(
            suites, "testsuite", name=name, tests=str(len(by_rule)), failures=str(failed)
        )
        suite.set("errors", "0")
        for rule, found in by_rule.items():
            case = SubElement(suite, "testcase", classname=name, name=rule)
            _fill(case, found, call.about(shop.root))
    indent(suites)
    return tostring(suites, encoding="unicode")


def _is_error(finding: Finding) -> bool:
    return finding.level is Level.ERROR


def _fill(case: Element, found: Sequence[Finding], call: Call) -> None:
    errors = [finding for finding in found if _is_error(finding)]
    rest = [finding for finding in found if not _is_error(finding)]
    if errors:
        failure = SubElement(case, "failure", message=_printable(errors[0].message), type="error")
        failure.text = "\n".join(_line(finding, call) for finding in errors)
    if rest:
        out = SubElement(case, "system-out")
        out.text = "\n".join(f"{finding.level}: {_line(finding, call)}" for finding in rest)


def _line(finding: Finding, call: Call) -> str:
    return _printable(f"{finding.place}: {sentences(finding, call)}")


def _printable(text: str) -> str:
    """Leave out what XML 1.0 does not allow."""
    return "".join(c for c in text if c in "\t\n" or (c >= " " and c not in "\ufffe\uffff"))
