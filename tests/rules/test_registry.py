"""The registry is whole, and every rule's name that is written as text is the name of a rule."""

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any, get_args

import pytest

import jobcheck.rules
import jobcheck.schema
from jobcheck.rules.base import SECTIONS, Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import AREAS, BY_NAME, RULES
from jobcheck.rules.renamed import RENAMED

ROOT = FilePath(jobcheck.rules.__file__).parents[1]
_SLUG = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)+")
_NO_RULES = {"utf-8", "lowest-first", "x-class"}
"""Words that look like the name of a rule."""


def _modules(area: str) -> Iterator[Any]:
    package = importlib.import_module(f"jobcheck.rules.{area}")
    for found in pkgutil.iter_modules(package.__path__):
        yield importlib.import_module(f"{package.__name__}.{found.name}")


def _values_of_fields() -> Iterator[str]:
    """Yield the words that a field of the description may have."""
    for found in pkgutil.iter_modules(jobcheck.schema.__path__):
        module = importlib.import_module(f"jobcheck.schema.{found.name}")
        for named in vars(module).values():
            fields = getattr(named, "model_fields", {}).values()
            for kind in (named, *(field.annotation for field in fields)):
                yield from _words(kind)


def _words(kind: object) -> Iterator[str]:
    for argument in get_args(kind):
        if isinstance(argument, str):
            yield argument
        else:
            yield from _words(argument)


@pytest.mark.parametrize("area", AREAS)
def test_what_is_decorated_is_registered_in_its_area(area: str) -> None:
    made = {
        value.name: value
        for module in _modules(area)
        for value in vars(module).values()
        if isinstance(value, Rule) and value.check.__module__ == module.__name__
    }
    assert set(made) == {rule.name for rule in AREAS[area]}
    assert len(BY_NAME) == len(RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_has_a_sentence_and_every_section(rule: Rule) -> None:
    assert rule.summary.endswith(".")
    assert len(rule.summary) <= 90
    for title in SECTIONS:
        assert rule.section(title), f"{rule.name} has no section {title!r}"


def _texts() -> Iterator[tuple[str, str]]:
    """Yield file and text of every string in the rooms that speak of rules, docstrings apart."""
    for room in ("rules", "facts", "changes", "commands", "reports", "cli"):
        for file in sorted((ROOT / room).rglob("*.py")):
            if file.name == "renamed.py" or "starter" in file.parts:
                continue
            for node in ast.walk(ast.parse(file.read_text())):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield file.relative_to(ROOT).as_posix(), node.value


def test_every_name_that_is_written_as_text_is_a_rule() -> None:
    others = {*_values_of_fields(), *FAULTS, *_NO_RULES}
    first_words = {name.partition("-")[0] for name in (*BY_NAME, *RENAMED)}
    unknown = {
        (file, text)
        for file, text in _texts()
        if _SLUG.fullmatch(text)
        and text not in BY_NAME
        and text not in others
        # an option, a package or a key of a format begins like no rule
        and text.partition("-")[0] in first_words
    }
    assert not unknown


def test_an_old_name_leads_to_a_rule_and_is_none_itself() -> None:
    for old, new in RENAMED.items():
        assert old not in BY_NAME
        assert new == "" or new in BY_NAME, f"{old} became {new}, which is not a rule"


def _named(node: ast.AST) -> Iterator[str]:
    return (found.id for found in ast.walk(node) if isinstance(found, ast.Name))


def levels_used(rule: Rule) -> set[str]:
    """Return the levels that a rule and the functions of its module that it uses speak of."""
    tree = ast.parse(FilePath(inspect.getfile(rule.check)).read_text())
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    reached: set[str] = set()
    named: set[str] = set()
    ahead = [rule.check.__name__]
    while ahead:
        name = ahead.pop()
        if name in functions and name not in reached:
            reached.add(name)
            ahead += [used for part in functions[name].body for used in _named(part)]
            named |= set(ahead)
    of_reach = {"ERROR", "WARNING"} if "weight" in named else set()
    return of_reach | {
        found.attr
        for name in reached
        for part in functions[name].body
        for found in ast.walk(part)
        if isinstance(found, ast.Attribute)
        and isinstance(found.value, ast.Name)
        and found.value.id == "Level"
    }


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_level_that_a_rule_speaks_of_is_declared(rule: Rule) -> None:
    assert levels_used(rule) <= {level.name for level in rule.levels}


def test_words_of_fields_are_found() -> None:
    assert {"cut-tape", "as-placed"} <= set(_values_of_fields())
