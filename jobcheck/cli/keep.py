"""`jobcheck keep`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_rule, complete_selection
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, NOT_UNDERSTOOD, OK, Options, common, controller_option
from jobcheck.findings import command


@cli.command()
@click.option("--label", required=True, metavar="TEXT", help="The name of the record.")
@click.option("--note", metavar="TEXT", help="A note in the record.")
@click.option(
    "--on-purpose",
    multiple=True,
    metavar="SELECTION",
    shell_complete=complete_selection,
    help="A loss that is meant (repeatable).",
)
@click.option(
    "--accepted",
    multiple=True,
    metavar="RULE",
    shell_complete=complete_rule,
    help="A rule whose accepted errors are recorded with it (repeatable).",
)
@controller_option
@common()
def keep(
    options: Options,
    label: str,
    note: str | None,
    on_purpose: tuple[str, ...],
    accepted: tuple[str, ...],
    controller: FilePath | None,
) -> int:
    """Record the shop as known-good; refused while lint has errors."""
    from jobcheck.commands.keep import keep
    from jobcheck.reports.text.records import kept_text

    root = options.root
    kept = keep(
        root,
        label,
        options.as_of,
        note=note,
        on_purpose=on_purpose,
        accepted=accepted,
        folder=controller,
    )
    asked = command(
        "keep",
        *("--label", label),
        *(("--note", note) if note else ()),
        *(word for one in on_purpose for word in ("--on-purpose", one)),
        *(word for rule in accepted for word in ("--accepted", rule)),
    )
    options.streams.show(kept_text(kept, options.call_about(root), options.quiet, asked))
    if kept.record:
        return OK
    return NOT_UNDERSTOOD if kept.linted.reading.faults else FOUND
