"""Pages and pictures that a command writes into a file of the user's choice."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import click

from jobcheck.cli.options import Options
from jobcheck.findings import CallRefused
from jobcheck.sources.state.writing import WriteRefused, write_page


def page_file(*endings: str) -> Callable[[click.Context, click.Parameter, Any], FilePath | None]:
    """Return a callback that takes only files with these endings."""

    def checked(
        _context: click.Context, _option: click.Parameter, file: FilePath | None
    ) -> FilePath | None:
        if file is not None and file.suffix not in endings:
            raise click.BadParameter(f"{file} does not end in {' or '.join(endings)}.")
        return file

    return checked


def output_option(*endings: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a command `-o FILE`, which must have one of these endings."""
    return click.option(
        "-o",
        "--output",
        required=True,
        type=click.Path(path_type=FilePath),
        callback=page_file(*endings),
        metavar="FILE",
        help=f"The file to write: {' or '.join(endings)}.",
    )


def write_output(options: Options, file: FilePath, text: str) -> None:
    """Write a page as a whole, and say so.

    Raises:
        CallRefused: it cannot be written.
    """
    write_quietly(file, text)
    if not options.quiet:
        options.streams.show([f"Written: {file}"])


def write_quietly(file: FilePath, text: str) -> None:
    """Write a page as a whole.

    Raises:
        CallRefused: it cannot be written.
    """
    try:
        write_page(file, text)
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
