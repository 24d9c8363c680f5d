"""`jobcheck new`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, file_options
from jobcheck.sources.state.shops import shop_root


@cli.command()
@click.argument("folder", required=False, type=click.Path(path_type=FilePath))
@click.option(
    "--bridge",
    type=click.Path(path_type=FilePath),
    metavar="FILE",
    help="Instead, start the map of this controller's file.",
)
@file_options
@common()
def new(
    options: Options, folder: FilePath | None, bridge: FilePath | None, **about: str | None
) -> int:
    """Create a small working shop in FOLDER, this folder if none is named.

    Existing files are kept.
    """
    if bridge is not None:
        return _new_bridge(options, folder, bridge, about)
    from jobcheck.commands.new import new_shop
    from jobcheck.reports.text.new import new_text

    options.streams.show(new_text(new_shop(folder or FilePath(".")), options.call))
    return OK


def _new_bridge(
    options: Options, folder: FilePath | None, bridge: FilePath, about: dict[str, str | None]
) -> int:
    from jobcheck.reports.text.new import started_text
    from jobcheck.sources.bridge.starting import start_bridge

    root = shop_root(str(folder) if folder else options.shop)
    options.streams.show(
        started_text(start_bridge(root, bridge, **about), options.call_about(root))
    )
    return OK
