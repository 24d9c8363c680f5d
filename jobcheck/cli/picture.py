"""`jobcheck picture`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_state
from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, controller_option
from jobcheck.cli.output import output_option, write_output
from jobcheck.findings import CallRefused

_SHOWS = ("board", "machine", "cameras", "part", "change")


@cli.command()
@click.argument("job")
@click.argument("name", required=False)
@output_option(".html", ".svg")
@click.option(
    "--show",
    type=click.Choice(_SHOWS),
    default="board",
    help="What to draw; default: board. NAME is the placement of part, or one of the cameras.",
)
@click.option(
    "--cell", metavar="CELL", help="The cell of the part; default: the first that is built."
)
@click.option(
    "--from",
    "old",
    default="good",
    metavar="STATE",
    shell_complete=complete_state,
    help="The old state of --show change; default: good, the last known-good record.",
)
@click.option(
    "--to",
    "new",
    default="now",
    metavar="STATE",
    shell_complete=complete_state,
    help="The new state of --show change; default: now.",
)
@controller_option
@common()
def picture(
    options: Options,
    job: str,
    name: str | None,
    output: FilePath,
    show: str,
    cell: str | None,
    old: str,
    new: str,
    controller: FilePath | None,
) -> int:
    """Draw JOB into a file: its board, the machine, camera controls, one part, a change."""
    from jobcheck.commands import picture as gather
    from jobcheck.reports.pages import pictures

    root = options.root
    if show == "part" and name is None:
        raise CallRefused("Name the placement: --show part REFERENCE.")
    if show not in ("part", "cameras") and name is not None:
        raise CallRefused(f"--show {show} takes no name: leave {name} out.")
    if show == "board":
        board = gather.board_picture(root, job, options.as_of, controller)
        drawn = pictures.board(board, options.call_about(root))
    elif show == "machine":
        drawn = pictures.machine(gather.machine_picture(root, job))
    elif show == "cameras":
        drawn = pictures.cameras(gather.cameras_picture(root, name))
    elif show == "change":
        drawn = pictures.change(gather.change_picture(root, job, old, new))
    else:
        drawn = pictures.part(gather.part_picture(root, job, name or "", cell))
    write_output(options, output, drawn.svg() if output.suffix == ".svg" else drawn.html())
    return OK
