"""`jobcheck lint`."""

from __future__ import annotations

import os
import sys
from pathlib import Path as FilePath
from typing import Any

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, controller_option, show_json
from jobcheck.findings import CallRefused
from jobcheck.sources.staged import Touched, touched_shops
from jobcheck.sources.state.shops import shop_root, shops_of
from jobcheck.sources.state.state import Replaced


@cli.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=FilePath), metavar="[PATH]...")
@click.option(
    "--staged", is_flag=True, is_eager=True, help="Check the files staged in git, for the hook."
)
@click.option("--only", multiple=True, metavar="RULE", help="Run only this rule (repeatable).")
@click.option("--skip", multiple=True, metavar="RULE", help="Do not run this rule (repeatable).")
@click.option("--unchecked", is_flag=True, help="List each value that would enable a check.")
@click.option(
    "--stdin-as",
    type=click.Path(path_type=FilePath),
    metavar="PATH",
    help="Read the file PATH from standard input, as an editor has it: lint --stdin-as PATH -",
)
@click.option("--strict", is_flag=True, help="Exit 1 for warnings too.")
@controller_option
@common("lines", "json", "sarif", "junit")
def lint(
    options: Options,
    paths: tuple[FilePath, ...],
    staged: bool,
    only: tuple[str, ...],
    skip: tuple[str, ...],
    unchecked: bool,
    stdin_as: FilePath | None,
    strict: bool,
    controller: FilePath | None,
) -> int:
    """Check the whole shops of PATHs; default: here."""
    if staged:
        states = _touched(options, paths)
        if not (states or only or skip or options.format in ("json", "sarif", "junit")):
            return OK  # no shop is touched: load nothing more
    elif stdin_as is not None:
        states = _edited(stdin_as, paths)
    else:
        there = shops_of(paths or (shop_root(options.shop),))
        states = {root: Touched(state) for root, state in there.items()}
    from jobcheck.commands.lint import chosen_rules, exit_code, lint_states

    rules = chosen_rules(only, skip)
    shops = lint_states(states, rules, options.as_of, controller)
    _report_lint(options, shops, staged=staged, unchecked=unchecked)
    return exit_code(shops, strict)


def _edited(file: FilePath, paths: tuple[FilePath, ...]) -> dict[FilePath, Touched]:
    """Return the shop of a file whose bytes come from standard input."""
    if paths not in ((), (FilePath("-"),)):
        raise CallRefused("--stdin-as lints the shop of one file: give no other path than -.")
    if not file.parent.is_dir():
        raise CallRefused(f"{file.parent} is not a folder.")
    [(root, state)] = shops_of([file.parent]).items()
    name = file.resolve().relative_to(root).as_posix()
    files = Replaced(state.files, name, sys.stdin.buffer.read())
    return {root: Touched(state._replace(files=files))}


def _touched(options: Options, paths: tuple[FilePath, ...]) -> dict[FilePath, Touched]:
    if paths:
        raise CallRefused("--staged reads the index alone: give no path with it.")
    return touched_shops(options.shop)


def _report_lint(options: Options, shops: Any, *, staged: bool, unchecked: bool) -> None:
    # Git runs a hook in the top folder, and says in GIT_PREFIX from where it was called.
    call = options.call_from(os.environ.get("GIT_PREFIX", "") if staged else "")
    if options.format == "json":
        from jobcheck.reports.data.findings import lint_data

        show_json(options, lint_data(shops, call))
    elif options.format == "sarif":
        from jobcheck.commands.rules import summaries
        from jobcheck.reports.data.findings import lint_sarif

        show_json(options, lint_sarif(shops, summaries(), call))
    elif options.format == "junit":
        from jobcheck.commands.rules import summaries
        from jobcheck.reports.data.junit import lint_junit

        options.streams.show([lint_junit(shops, tuple(summaries()), call)])
    elif options.format == "lines":
        from jobcheck.reports.text.findings import lines_text

        options.streams.show(lines_text(shops, call))
    else:
        from jobcheck.reports.text.findings import lint_text

        lines = lint_text(shops, call, staged=staged, quiet=options.quiet, unchecked=unchecked)
        options.streams.show(lines)
