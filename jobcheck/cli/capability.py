"""`jobcheck capability`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, show_json


@cli.command()
@click.argument("job")
@common("json")
def capability(options: Options, job: str) -> int:
    """Show the error budget of JOB: what is placed well, and what would gain most."""
    from jobcheck.commands.capability import capability_of
    from jobcheck.reports.text.capability import capability_data, capability_text

    found = capability_of(options.root, job)
    if options.format == "json":
        show_json(options, capability_data(found))
    else:
        options.streams.show(capability_text(found, options.quiet))
    return OK
