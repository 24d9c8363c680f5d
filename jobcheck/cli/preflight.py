"""`jobcheck preflight`."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import get_args

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, controller_option, show_json
from jobcheck.schema.trial import TrialKind


@cli.command()
@click.argument("job")
@click.option(
    "--for",
    "kind",
    type=click.Choice(get_args(TrialKind)),
    default="paste",
    help="What the run is placed on; default: paste.",
)
@click.option(
    "--panels", type=click.IntRange(1), metavar="N", help="Panels to build; default: those planned."
)
@controller_option
@common("json")
def preflight(
    options: Options, job: str, kind: TrialKind, panels: int | None, controller: FilePath | None
) -> int:
    """Say GO or NO GO for a run of JOB, and why."""
    from jobcheck.commands.preflight import preflight as judge
    from jobcheck.reports.text.runs import preflight_data, preflight_text

    root = options.root
    found = judge(root, job, kind, panels, options.as_of, controller)
    if options.format == "json":
        show_json(options, preflight_data(found, options.call_about(root)))
    else:
        options.streams.show(preflight_text(found, options.call_about(root)))
    return OK if found.is_go else FOUND
