"""`jobcheck used`."""

from __future__ import annotations

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json, write_option
from jobcheck.findings import CallRefused


@cli.command()
@click.argument("job")
@click.option("--panels", type=click.IntRange(0), metavar="N", required=True, help="Panels built.")
@click.option("--run", "name", metavar="NAME", required=True, help="The name of the run.")
@click.option(
    "--lost",
    multiple=True,
    metavar="FEEDER=N",
    help="Parts lost beside that; a negative number is a correction (repeatable).",
)
@write_option
@common("json")
def used(
    options: Options, job: str, panels: int, name: str, lost: tuple[str, ...], write: bool
) -> int:
    """Book what a run of JOB has used, once for each run."""
    from jobcheck.commands.used import use
    from jobcheck.reports.text.runs import used_data, used_text

    root = options.root
    losses = dict(_loss(text) for text in lost)
    found = use(root, job, panels, name, losses, options.as_of, write=write)
    if options.format == "json":
        show_json(options, used_data(found))
    else:
        words = [job, "--panels", str(panels), "--run", name]
        words += [word for text in lost for word in ("--lost", text)]
        options.streams.show(used_text(found, options.call_about(root), words))
    return FOUND if found.is_booked else OK


def _loss(text: str) -> tuple[str, int]:
    feeder, _, amount = text.partition("=")
    try:
        return feeder, int(amount)
    except ValueError:
        raise CallRefused(f"--lost {text} is not FEEDER=N, for example f12=3.") from None
