"""`jobcheck checked`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, write_option


@cli.command()
@click.argument("job")
@click.argument("references", nargs=-1, required=True, metavar="REFERENCE...")
@write_option
@common()
def checked(options: Options, job: str, references: tuple[str, ...], write: bool) -> int:
    """Record a look at pin 1 of REFERENCEs of a JOB.

    On your word: you compared it with the board's drawing.

    A look counts until part, angle, side, drawing, level or bottom convention changes.
    """
    from jobcheck.commands.checked import check
    from jobcheck.reports.text.checked import checked_text

    root = options.root
    done = check(root, job, references, options.as_of, write=write)
    options.streams.show(checked_text(done, options.call_about(root), options.quiet))
    return OK
