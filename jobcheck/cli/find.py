"""`jobcheck find`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, file_options, show_json


@cli.command()
@click.argument("file", type=click.Path(path_type=FilePath))
@click.argument("value")
@file_options
@common("json")
def find(options: Options, file: FilePath, value: str, **about: str | None) -> int:
    """List the addresses of VALUE in a controller's FILE.

    Search for a number that you know, to write the map. Every notation is found, also as one
    part of a text.
    """
    from jobcheck.commands.find import find_value
    from jobcheck.reports.text.bridge import found_data, found_text

    found = find_value(file, value, **about)
    if options.format == "json":
        show_json(options, found_data(found))
    else:
        options.streams.show(found_text(found))
    return OK if found.matches else FOUND
