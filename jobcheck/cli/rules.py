"""`jobcheck rules`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, show_json


@cli.command()
@click.option("--page", is_flag=True, help="Print the page of all rules in Markdown.")
@common("json")
def rules(options: Options, page: bool) -> int:
    """List what is checked."""
    from jobcheck.commands.rules import areas
    from jobcheck.reports.text.rules import rules_data, rules_page, rules_text

    if options.format == "json":
        show_json(options, rules_data(areas()))
    else:
        options.streams.show([rules_page(areas()).rstrip("\n")] if page else rules_text(areas()))
    return OK
