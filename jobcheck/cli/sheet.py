"""`jobcheck sheet`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common
from jobcheck.cli.output import output_option, write_quietly


@cli.command()
@click.argument("job")
@output_option(".html")
@click.option(
    "--panels", type=click.IntRange(1), metavar="N", help="Panels to build; default: those planned."
)
@common()
def sheet(options: Options, job: str, output: FilePath, panels: int | None) -> int:
    """Write the run sheet of JOB: one page to print, with boxes to tick."""
    from jobcheck.commands.sheet import sheet as gather
    from jobcheck.reports.pages.sheet import sheet_page

    found = gather(options.root, job, panels, options.as_of)
    write_quietly(output, sheet_page(found))
    if not options.quiet:
        options.streams.show([f"Written: {output}, state {found.state}"])
    return OK
