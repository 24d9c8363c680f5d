"""`jobcheck where`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, show_json


@cli.command()
@click.argument("reference")
@click.option("--job", metavar="JOB", help="The job; needed if several have the reference.")
@click.option(
    "--cell", metavar="CELL", help="The cell, for example 1-1; default: the first that is built."
)
@click.option("--spindle", metavar="NAME", help="The spindle; default: the first described.")
@common("json")
def where(
    options: Options, reference: str, job: str | None, cell: str | None, spindle: str | None
) -> int:
    """Show where REFERENCE goes and how it is turned."""
    from jobcheck.commands.where import where as find
    from jobcheck.reports.text.where import where_data, where_text

    root = options.root
    found = find(root, reference, job, cell, spindle)
    if options.format == "json":
        show_json(options, where_data(found))
    else:
        options.streams.show(where_text(found, options.call_about(root), options.quiet))
    return OK
