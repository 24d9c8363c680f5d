"""`jobcheck repeatability`."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, parse_day, show_json, write_option
from jobcheck.cli.output import page_file, write_quietly
from jobcheck.findings import CallRefused, command_of
from jobcheck.trade.units import MM_PER_UNIT

_FILE = click.Path(path_type=FilePath)


@cli.command()
@click.argument("log", type=_FILE)
@click.option("--compare", type=_FILE, metavar="EARLIER", help="An earlier log to compare with.")
@click.option("--units", type=click.Choice(list(MM_PER_UNIT)), help="The unit of lengths.")
@click.option(
    "--time-unit",
    type=click.Choice(["us", "ms", "s", "min", "h"]),
    help="The unit of times.",
)
@click.option(
    "--picture",
    type=_FILE,
    callback=page_file(".svg"),
    metavar="FILE",
    help="Draw it into FILE, which ends in .svg.",
)
@click.option("--on", "day", callback=parse_day, metavar="DATE", help="The day of the log.")
@write_option
@common("json")
def repeatability(
    options: Options,
    log: FilePath,
    compare: FilePath | None,
    units: str | None,
    time_unit: str | None,
    picture: FilePath | None,
    day: date | None,
    write: bool,
) -> int:
    """Show how well the machine repeats, and whether it drifts in cycles.

    LOG is a CSV file with a row for each measurement: x, y and, if known, time, commanded x and
    y, the direction of the approach, spindle angle, temperature, load and what was measured.
    """
    _need_measure()
    from jobcheck.commands.repeatability import repeatability as judge
    from jobcheck.commands.repeatability import with_summary
    from jobcheck.reports.text.repeatability import repeatability_data, repeatability_text
    from jobcheck.sources.measurements import read_measurements

    earlier = read_measurements(compare, units, time_unit) if compare else None
    found = judge(read_measurements(log, units, time_unit), earlier)
    if write or _is_in_shop(options):
        measured = day or datetime.fromtimestamp(log.stat().st_mtime).date()
        found = with_summary(found, options.root, measured, write=write)
    if picture is not None:
        from jobcheck.reports.pages.repeatability import repeatability_svg

        write_quietly(picture, repeatability_svg(found))
    if options.format == "json":
        show_json(options, repeatability_data(found))
    else:
        options.streams.show(repeatability_text(found, options.call_if_known(), options.quiet))
    return OK


def _is_in_shop(options: Options) -> bool:
    try:
        return bool(options.root)
    except CallRefused:
        if options.shop is not None:
            raise
        return False


def _need_measure() -> None:
    """Refuse where NumPy or SciPy is not installed; they are in the extra `measure`."""
    from importlib.util import find_spec
    from sys import executable

    missing = [name for name in ("numpy", "scipy") if find_spec(name) is None]
    if missing:
        raise CallRefused(
            f"This command computes with {' and '.join(missing)}, which jobcheck's extra "
            "`measure` brings. To install:",
            command_of(executable, "-m", "pip", "install", "numpy", "scipy"),
        )
