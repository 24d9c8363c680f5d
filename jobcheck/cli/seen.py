"""`jobcheck seen`."""

from __future__ import annotations

import shlex
from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_camera
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json


@cli.command()
@click.argument("camera", shell_complete=complete_camera)
@click.argument("listing", type=click.Path(path_type=FilePath))
@click.option("--write", is_flag=True, help="Take over ranges and defaults, and the day.")
@common("json")
def seen(options: Options, camera: str, listing: FilePath, write: bool) -> int:
    """Compare what a CAMERA's device reports with the description.

    Save one with: v4l2-ctl --device /dev/video0 --list-ctrls-menus > LISTING
    """
    from jobcheck.commands.seen import look_at
    from jobcheck.reports.text.seen import seen_data, seen_text

    root = options.root
    seen = look_at(root, camera, listing, options.as_of, write=write)
    if options.format == "json":
        show_json(options, seen_data(seen))
    else:
        words = shlex.join([camera, str(listing)])
        options.streams.show(seen_text(seen, options.call_about(root), words))
    return FOUND if seen.differing else OK
