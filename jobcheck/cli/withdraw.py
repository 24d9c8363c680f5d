"""`jobcheck withdraw`."""

from __future__ import annotations

import click

from jobcheck.cli.completion import complete_label
from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common


@cli.command()
@click.argument("label", shell_complete=complete_label)
@click.option("--because", required=True, metavar="TEXT", help="The reason.")
@common()
def withdraw(options: Options, label: str, because: str) -> int:
    """Mark the record LABEL as not good after all.

    Nothing is deleted.
    """
    from jobcheck.commands.withdraw import take_back
    from jobcheck.reports.text.records import withdrawn_text

    root = options.root
    record = take_back(root, label, because, options.as_of)
    options.streams.show(withdrawn_text(record, root, options.call_about(root)))
    return OK
