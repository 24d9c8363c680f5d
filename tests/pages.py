"""The page of all rules, `docs/rules.md`, made from the rules themselves.

`python -m tests.pages` writes it; with `--check` it only tells whether it is up to date.
"""

import argparse
import pathlib
from itertools import groupby

from jobcheck.rules.base import SECTIONS, Rule
from jobcheck.rules.registry import RULES

PAGE = pathlib.Path(__file__).parent.parent / "docs" / "rules.md"

_HEAD = """\
# Rules

Made from the rules by `python -m tests.pages`; do not edit it by hand. `jobcheck explain RULE`
shows the same. The examples are lines `path: value` that change the shop which `jobcheck new`
makes; `~` takes a value away.
"""


def page() -> str:
    """Return the text of the page."""
    parts = [_HEAD]
    for area, rules in groupby(RULES, key=_area):
        parts.append(f"## {area.capitalize()}\n")
        parts += [_entry(rule) for rule in rules]
    return "\n".join(parts)


def _area(rule: Rule) -> str:
    return rule.check.__module__.rpartition(".")[2].replace("_", " ")


def _entry(rule: Rule) -> str:
    sections = [f"- {title}: {rule.section(title)}" for title in SECTIONS if rule.section(title)]
    examples = [_example("Found in", rule.fails), _example("Not found in", rule.passes)]
    said = "\n".join([*sections, ""])
    return f"### {rule.name}\n\n{rule.level.capitalize()}. {rule.summary}\n\n{said}\n" + "\n".join(
        examples
    )


def _example(title: str, lines: str) -> str:
    return f"{title}:\n\n```yaml\n{lines or '# the shop as it is'}\n```\n"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.pages", description=__doc__)
    parser.add_argument(
        "--check", action="store_true", help="write nothing, exit 1 on a difference"
    )
    if not parser.parse_args().check:
        PAGE.parent.mkdir(exist_ok=True)
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    current = PAGE.exists() and PAGE.read_text(encoding="utf-8") == page()
    print("docs/rules.md is up to date." if current else "Outdated: run python -m tests.pages.")
    return 0 if current else 1


if __name__ == "__main__":
    raise SystemExit(main())
