"""`jobcheck diff`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_selection, complete_state
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, controller_option, show_json


@cli.command()
@click.argument("folder", required=False, type=click.Path(path_type=FilePath))
@click.option(
    "--from",
    "old",
    default="good",
    metavar="STATE",
    shell_complete=complete_state,
    help="The old state; default: good, the last known-good record.",
)
@click.option(
    "--to",
    "new",
    default="now",
    metavar="STATE",
    shell_complete=complete_state,
    help="The new state; default: now, the files as they are.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="SELECTION",
    shell_complete=complete_selection,
    help="Only this part of the description (repeatable).",
)
@controller_option
@common("lines", "json")
def diff(
    options: Options,
    folder: FilePath | None,
    old: str,
    new: str,
    only: tuple[str, ...],
    controller: FilePath | None,
) -> int:
    """Show the changes between two states, and their impact.

    A STATE is now, staged, good, good:LABEL, git:REVISION or a folder. FOLDER is the shop, as with
    --shop.
    """
    from jobcheck.commands.diff import compare
    from jobcheck.reports.text.changes import diff_data, diff_lines, diff_text

    if folder is not None:
        options = replace(options, shop=str(folder))
    call = options.call_about(options.root)
    compared = compare(options.root, old, new, only, controller)
    if options.format == "json":
        show_json(options, diff_data(compared))
    elif options.format == "lines":
        options.streams.show(diff_lines(compared, call))
    else:
        options.streams.show(diff_text(compared, call, options.quiet))
    return FOUND if compared.differs else OK
