"""`jobcheck proof`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json


@cli.command()
@click.argument("job", required=False)
@common("json")
def proof(options: Options, job: str | None) -> int:
    """Show what trials prove of JOB (default: all), and what lost its proof to which change."""
    from jobcheck.commands.proof import prove
    from jobcheck.reports.text.runs import proof_data, proof_text

    root = options.root
    jobs = prove(root, job)
    if options.format == "json":
        show_json(options, proof_data(jobs))
    else:
        options.streams.show(proof_text(jobs, options.call_about(root), options.quiet))
    return OK if all(one.is_whole for one in jobs) else FOUND
