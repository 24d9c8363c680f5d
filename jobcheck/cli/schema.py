"""`jobcheck schema`."""

from __future__ import annotations

import json
from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common


@cli.command()
@click.option(
    "--output",
    type=click.Path(path_type=FilePath),
    metavar="FOLDER",
    help="Write them into this folder.",
)
@common("json")
def schema(options: Options, output: FilePath | None) -> int:
    """Print or write the JSON Schemas of the files."""
    from jobcheck.commands.schema import schemas, write_schemas

    if output is None:
        options.streams.show(["{", *_joined(schemas()), "}"])
    else:
        options.streams.show([f"Written: {path.as_posix()}" for path in write_schemas(output)])
    return OK


def _joined(made: dict[str, str]) -> list[str]:
    entries = [f"{json.dumps(name)}: {text.rstrip()}" for name, text in made.items()]
    return [entry + ("," if entry != entries[-1] else "") for entry in entries]
