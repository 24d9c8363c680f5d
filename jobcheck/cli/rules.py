"""`jobcheck rules`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, show_json


@cli.command()
@click.option("--page", is_flag=True, help="Print the page of all rules in Markdown.")
@common("json")
def rules(options: Options, page: bool) -> int:
    """List the rules."""
    from jobcheck.commands.rules import catalogue
    from jobcheck.reports.text.rules import rules_data, rules_page, rules_text

    if options.format == "json":
        show_json(options, rules_data(catalogue()))
    else:
        lines = [rules_page(catalogue()).rstrip("\n")] if page else None
        options.streams.show(lines or rules_text(catalogue(), options.call))
    return OK
