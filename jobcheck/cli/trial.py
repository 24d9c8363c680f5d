"""`jobcheck trial`."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any, get_args

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, parse_day
from jobcheck.schema.trial import Result, TrialKind


@cli.command()
@click.argument("job")
@click.option(
    "--kind", type=click.Choice(get_args(TrialKind)), required=True, help="What was placed on."
)
@click.option(
    "--seen",
    type=click.Path(path_type=FilePath),
    metavar="CSV",
    help="A file with what was seen: reference, result and, if known, x_mm, y_mm, turn_deg.",
)
@click.option("--ask", is_flag=True, help="Ask for each placement at the terminal.")
@click.option("--on", "day", callback=parse_day, metavar="DATE", help="The day of the trial.")
@click.option("--note", metavar="TEXT", help="For people.")
@common()
def trial(
    options: Options,
    job: str,
    kind: TrialKind,
    seen: FilePath | None,
    ask: bool,
    day: date | None,
    note: str | None,
) -> int:
    """Add what was seen of a rehearsal or run of JOB to `trials/`.

    Without --seen or --ask every placement is not-seen: write the results into the file.
    """
    from jobcheck.commands.trial import add_trial
    from jobcheck.reports.text.runs import trial_text

    root = options.root
    asked = _ask if ask else None
    added = add_trial(root, job, kind, day or options.as_of, seen=seen, ask=asked, note=note)
    options.streams.show(trial_text(added, options.call_about(root)))
    return OK


def _ask(reference: str, part: str) -> Mapping[str, Any]:
    """Ask what was seen of one placement; a shift is asked for its size."""
    results = click.Choice(get_args(Result))
    entry: dict[str, Any] = {
        "result": click.prompt(f"{reference}, {part}", type=results, default="ok")
    }
    if entry["result"] == "shifted":
        for key, words in (("x_mm", "along x, mm"), ("y_mm", "along y, mm"), ("turn_deg", "turn")):
            entry[key] = click.prompt(f"  {words}", type=float, default=0.0)
    return entry
