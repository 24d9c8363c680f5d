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
    controller_option,
    show_json,
    write_option,
)
from jobcheck.findings import command


@cli.command()
@click.argument("selections", nargs=-1, metavar="[SELECTION]...")
@click.option(
    "--check", is_flag=True, help="Only compare; exit 1 if a setting or measurement differs."
)
@write_option
@controller_option
@common("json")
def gather(
    options: Options,
    selections: tuple[str, ...],
    check: bool,
    write: bool,
    controller: FilePath | None,
) -> int:
    """Read values: controller's files -> description.

    The map of the shop says where each value is. A value that is gone from the files is removed
    from the description: it is lost. SELECTIONs narrow it: cameras.up, feeders.f03.pick.
    """
    from jobcheck.commands.gather import gather as draw
    from jobcheck.reports.text.bridge import checked_text, gathered_data, gathered_text

    if check and write:
        raise click.UsageError("--check only looks: leave out --write.")
    root = options.root
    write = write and not check
    gathered = draw(root, options.as_of, selections, controller=controller, write=write)
    call, asked = options.call_about(root), command("gather", *selections)
    if options.format == "json":
        show_json(options, gathered_data(gathered))
    elif check:
        options.streams.show(checked_text(gathered, call, asked))
    else:
        options.streams.show(gathered_text(gathered, call, asked, options.quiet))
    return FOUND if check and gathered.is_other else OK
