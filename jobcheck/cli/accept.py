"""`jobcheck accept`."""

from __future__ import annotations

from datetime import date

import click

from jobcheck.cli.completion import complete_rule
from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, parse_day, write_option
from jobcheck.findings import command


@cli.command()
@click.argument("rules", nargs=-1, metavar="[RULE]...", shell_complete=complete_rule)
@click.option("--all", "everything", is_flag=True, help="Accept the findings of all rules.")
@click.option(
    "--until",
    required=True,
    callback=parse_day,
    metavar="DATE",
    help="The last day, at most a year ahead.",
)
@click.option("--because", required=True, metavar="TEXT", help="The reason.")
@write_option
@common()
def accept(
    options: Options,
    rules: tuple[str, ...],
    everything: bool,
    until: date,
    because: str,
    write: bool,
) -> int:
    """Accept today's findings of RULEs until a day.

    They are counted, not shown. A rule that finds a loss cannot be accepted.
    """
    from jobcheck.commands.accept import accept
    from jobcheck.reports.text.proposals import accepted_text

    root = options.root
    accepted = accept(
        root,
        rules,
        options.as_of,
        everything=everything,
        until=until,
        because=because,
        write=write,
    )
    named = ("--all",) if everything else rules
    asked = command("accept", *named, "--until", until.isoformat(), "--because", because)
    options.streams.show(accepted_text(accepted, options.call_about(root), asked, options.quiet))
    return OK
