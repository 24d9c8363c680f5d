"""Commands that check, and tell what is checked."""

from __future__ import annotations

import shlex
from datetime import date
from pathlib import Path as FilePath
from typing import Any

import click

from jobcheck.cli.completion import complete_rule, selections_argument
from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    OK,
    Options,
    common,
    parse_day,
    refuse_format,
    show_json,
)
from jobcheck.commands.calls import CallRefused, shop_root, shops_of


@cli.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=FilePath), metavar="[PATH]...")
@click.option("--staged", is_flag=True, help="Lint what is staged in git, for the hook.")
@click.option("--only", multiple=True, metavar="RULE", help="Run only this rule (repeatable).")
@click.option("--skip", multiple=True, metavar="RULE", help="Do not run this rule (repeatable).")
@click.option("--strict", is_flag=True, help="Warnings fail too.")
@common
def lint(
    options: Options,
    paths: tuple[FilePath, ...],
    staged: bool,
    only: tuple[str, ...],
    skip: tuple[str, ...],
    strict: bool,
) -> int:
    """Check the whole shops that PATHs belong to; default: here."""
    if staged:
        states = _touched(options, paths)
        if not (states or only or skip or options.format in ("json", "sarif")):
            return OK  # no shop is touched: load nothing more
    else:
        states = shops_of(paths or (shop_root(options.shop),))
    from jobcheck.commands.lint import chosen_rules, exit_code, lint_states

    rules = chosen_rules(only, skip)
    shops = lint_states(states, rules, options.as_of)
    _report_lint(options, shops, staged)
    return exit_code(shops, strict)


def _touched(options: Options, paths: tuple[FilePath, ...]) -> dict[FilePath, Any]:
    from jobcheck.commands.staged import touched_shops

    if paths:
        raise CallRefused("--staged reads the index alone: give no path with it.")
    return touched_shops(options.shop)


def _report_lint(options: Options, shops: Any, staged: bool) -> None:
    if options.format == "json":
        from jobcheck.reports.data.findings import lint_data

        show_json(options, lint_data(shops, options.call))
    elif options.format == "sarif":
        from jobcheck.reports.data.findings import lint_sarif

        show_json(options, lint_sarif(shops, options.call))
    elif options.format == "lines":
        from jobcheck.reports.text.findings import lines_text

        options.streams.show(lines_text(shops))
    else:
        from jobcheck.reports.text.findings import lint_text

        lines = lint_text(shops, options.call, staged=staged, quiet=options.quiet)
        options.streams.show(lines)


@cli.command()
@click.option("--page", is_flag=True, help="Print the page of all rules in Markdown.")
@common
def rules(options: Options, page: bool) -> int:
    """List what is checked."""
    from jobcheck.commands.rules import areas
    from jobcheck.reports.text.rules import rules_data, rules_page, rules_text

    refuse_format(options, "json")
    if options.format == "json":
        show_json(options, rules_data(areas()))
    else:
        options.streams.show([rules_page(areas()).rstrip("\n")] if page else rules_text(areas()))
    return OK


@cli.command()
@click.argument("rule", shell_complete=complete_rule)
@common
def explain(options: Options, rule: str) -> int:
    """Explain one RULE: its check, consequence, fix and source."""
    from jobcheck.commands.rules import explained
    from jobcheck.reports.text.rules import explained_text

    refuse_format(options)
    options.streams.show(explained_text(rule, explained(rule)))
    return OK


@cli.command()
@click.argument("rules", nargs=-1, metavar="[RULE]...", shell_complete=complete_rule)
@click.option("--all", "everything", is_flag=True, help="The findings of all rules.")
@click.option("--until", required=True, callback=parse_day, metavar="DATE", help="Until this day.")
@click.option("--because", required=True, metavar="TEXT", help="Why they are lived with.")
@click.option("--write", is_flag=True, help="Write it; without this it is only shown.")
@common
def accept(
    options: Options,
    rules: tuple[str, ...],
    everything: bool,
    until: date,
    because: str,
    write: bool,
) -> int:
    """Live with today's findings of some rules until a day."""
    from jobcheck.commands.accept import accept
    from jobcheck.reports.text.proposals import accepted_text

    refuse_format(options)
    root = shop_root(options.shop)
    accepted = accept(
        root,
        rules,
        options.as_of,
        everything=everything,
        until=until,
        because=because,
        write=write,
    )
    named = "--all" if everything else " ".join(rules)
    command = f"accept {named} --until {until} --because {shlex.quote(because)}"
    options.streams.show(accepted_text(accepted, options.call, command, options.quiet))
    return OK


@cli.command()
@selections_argument
@click.option("--write", is_flag=True, help="Write it; without this it is only shown.")
@common
def retuned(options: Options, selections: tuple[str, ...], write: bool) -> int:
    """Stamp recognitions as tuned under the settings in force.

    A SELECTION is a recognition (recognitions.diode), or a camera for all of its own.
    """
    from jobcheck.commands.retuned import retune
    from jobcheck.reports.text.proposals import retuned_text

    refuse_format(options)
    done = retune(shop_root(options.shop), selections, write=write)
    options.streams.show(retuned_text(done, options.call, selections, options.quiet))
    return OK
