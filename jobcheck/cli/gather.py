"""`jobcheck gather`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    FOUND,
    OK,
    Options,
    common,
    controller_arguments,
    controller_option,
    show_json,
    write_option,
)
from jobcheck.findings import command


@cli.command()
@click.option("--check", is_flag=True, help="Only compare; exit 1 if a value differs.")
@write_option
@controller_option
@common("json")
def gather(options: Options, check: bool, write: bool, controller: FilePath | None) -> int:
    """Read values: controller's files -> description.

    The map of the shop says where each value is. A value that is gone from the files is removed
    from the description: it is lost.
    """
    from jobcheck.commands.gather import gather as draw
    from jobcheck.reports.text.bridge import checked_text, gathered_data, gathered_text

    if check and write:
        raise click.UsageError("--check only looks: leave out --write.")
    root = options.root
    gathered = draw(root, options.as_of, controller=controller, write=write and not check)
    call, asked = options.call_about(root), command("gather", *controller_arguments(controller))
    if options.format == "json":
        show_json(options, gathered_data(gathered))
    elif check:
        options.streams.show(checked_text(gathered, call, asked))
    else:
        options.streams.show(gathered_text(gathered, call, asked, options.quiet))
    return FOUND if check and gathered.differing else OK
