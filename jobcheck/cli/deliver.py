"""`jobcheck deliver`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import selections_argument
from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    FOUND,
    OK,
    Options,
    common,
    controller_option,
    show_json,
    write_option,
)
from jobcheck.findings import command


@cli.command()
@selections_argument
@click.option("--overwrite", is_flag=True, help="Also where the controller's value is newer.")
@write_option
@controller_option
@common("json")
def deliver(
    options: Options,
    selections: tuple[str, ...],
    overwrite: bool,
    write: bool,
    controller: FilePath | None,
) -> int:
    """Write values: description -> controller's files.

    Settings are delivered; measurements only where a SELECTION names them; counts never.
    """
    from jobcheck.commands.deliver import deliver as put
    from jobcheck.reports.text.bridge import delivered_data, delivered_text

    root = options.root
    delivered = put(root, selections, controller=controller, overwrite=overwrite, write=write)
    if options.format == "json":
        show_json(options, delivered_data(delivered))
    else:
        forced = ("--overwrite",) if overwrite else ()
        asked = command("deliver", *selections, *forced)
        options.streams.show(delivered_text(delivered, options.call_about(root), asked))
    return FOUND if delivered.refused else OK
