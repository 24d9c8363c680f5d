"""`jobcheck seen`: what a camera's device reports, against the description."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import click

from jobcheck.cli.completion import complete_camera
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, parse_day, show_json, write_option

if TYPE_CHECKING:
    from jobcheck.commands.seen import Looked


@cli.command()
@click.argument("camera", required=False, shell_complete=complete_camera)
@click.argument("listing", required=False, metavar="[LISTING]")
@click.option("--on", "day", callback=parse_day, metavar="DATE", help="The day of the listing.")
@click.option("--ranges", is_flag=True, help="Also take over the device's ranges and defaults.")
@write_option
@common("json")
def seen(
    options: Options,
    camera: str | None,
    listing: str | None,
    day: date | None,
    ranges: bool,
    write: bool,
) -> int:
    """Compare a CAMERA's device with the description.

    Without CAMERA: all cameras that are connected. LISTING is a saved listing of the device, `-`
    reads it from standard input. Save one with: v4l2-ctl --device /dev/video0 --all > LISTING
    """
    from jobcheck.reports.text.seen import seen_data, seen_text

    looked = _look(options, camera, listing, day, ranges, write)
    if options.format == "json":
        show_json(options, seen_data(looked))
    else:
        words = [word for word in (camera, listing) if word]
        words += ["--ranges"] if ranges else []
        options.streams.show(seen_text(looked, options.call_about(options.root), words))
    return OK if all(one.is_as_described for one in looked.cameras) else FOUND


def _look(
    options: Options,
    camera: str | None,
    listing: str | None,
    day: date | None,
    ranges: bool,
    write: bool,
) -> Looked:
    from jobcheck.commands.seen import bytes_of_listing, look_at_devices, look_at_listing

    root = options.root
    if camera is None or listing is None:
        from jobcheck.devices.system import Linux

        return look_at_devices(root, camera, Linux(), options.as_of, ranges=ranges, write=write)
    if listing == "-":
        data, saved = sys.stdin.buffer.read(), options.as_of
    else:
        data, saved = bytes_of_listing(FilePath(listing))
    return look_at_listing(root, camera, listing, data, day or saved, ranges=ranges, write=write)
