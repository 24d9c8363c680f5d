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
@click.option("--check", is_flag=True, help="Only tell whether both sides say the same; 1 if not.")
@write_option
@controller_option
@common("json")
def gather(options: Options, check: bool, write: bool, controller: FilePath | None) -> int:
    """Draw the description from the controller's own files, through the map of the shop.

    What disappeared from the files is taken out of the description: it is lost.
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
