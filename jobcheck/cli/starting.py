"""Commands to start with."""

from __future__ import annotations

import json
from pathlib import Path as FilePath

import click

from jobcheck.cli.bridging import file_options
from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    OK,
    Options,
    common,
    refuse_format,
)
from jobcheck.commands.calls import shop_root


@cli.command()
@click.argument("folder", required=False, type=click.Path(path_type=FilePath))
@click.option(
    "--bridge",
    type=click.Path(path_type=FilePath),
    metavar="FILE",
    help="Start the map of a controller's file in the shop instead.",
)
@file_options
@common
def new(
    options: Options, folder: FilePath | None, bridge: FilePath | None, **told: str | None
) -> int:
    """Put a small working shop into FOLDER; what stands there stays."""
    refuse_format(options)
    if bridge is not None:
        return _new_bridge(options, folder, bridge, told)
    if folder is None:
        raise click.UsageError("Missing argument 'FOLDER'.")
    from jobcheck.commands.new import new_shop
    from jobcheck.reports.text.new import new_text

    options.streams.show(new_text(new_shop(folder), options.call))
    return OK


def _new_bridge(
    options: Options, folder: FilePath | None, bridge: FilePath, told: dict[str, str | None]
) -> int:
    from jobcheck.commands.new_bridge import start_bridge
    from jobcheck.reports.text.new import started_text

    root = shop_root(str(folder) if folder else options.shop)
    options.streams.show(started_text(start_bridge(root, bridge, **told), options.call))
    return OK


@cli.command()
@click.option(
    "--output", type=click.Path(path_type=FilePath), metavar="FOLDER", help="Write them there."
)
@common
def schema(options: Options, output: FilePath | None) -> int:
    """Print or write the JSON Schemas of the description."""
    from jobcheck.commands.schema import schemas, write_schemas

    refuse_format(options, "json")
    if output is None:
        options.streams.show(["{", *_joined(schemas()), "}"])
    else:
        options.streams.show([f"Written: {path.as_posix()}" for path in write_schemas(output)])
    return OK


def _joined(made: dict[str, str]) -> list[str]:
    entries = [f"{json.dumps(name)}: {text.rstrip()}" for name, text in made.items()]
    return [entry + ("," if entry != entries[-1] else "") for entry in entries]
