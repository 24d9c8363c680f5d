"""`jobcheck import`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import NOT_UNDERSTOOD, OK, Options, common, show_json, write_option


def _pairs(_ctx: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> dict[str, str]:
    """Read `NAME=VALUE` options; the last `=` parts them, as a name may hold one."""
    found = {}
    for text in texts:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip() or not value.strip():
            raise click.BadParameter(f"{text} has no = between a name and a value.")
        found[name.strip()] = value.strip()
    return found


@cli.command(name="import")
@click.argument("list_file", metavar="LIST", type=click.Path(path_type=FilePath))
@click.option(
    "--job", required=True, metavar="NAME", help="The job to import into; created if new."
)
@click.option(
    "--bill", "bill_file", type=click.Path(path_type=FilePath), help="Its bill of materials."
)
@click.option("--bill-encoding", metavar="NAME", help="Encoding of the bill; default: UTF-8.")
@click.option(
    "--bill-column",
    "bill_named",
    multiple=True,
    callback=_pairs,
    metavar="MEANING=NAME",
    help="The column of a meaning in the bill (repeatable).",
)
@click.option(
    "--units", type=click.Choice(["mm", "mil", "inch", "um", "cm"]), help="Unit of positions."
)
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal mark.")
@click.option("--encoding", metavar="NAME", help="For example windows-1252; default: UTF-8.")
@click.option(
    "--delimiter",
    type=click.Choice(["comma", "semicolon", "tab", "exclamation", "pipe", "aligned"]),
    help="Between columns; aligned: columns of blanks.",
)
@click.option(
    "--side", type=click.Choice(["top", "bottom"]), help="The side, if all parts are on one."
)
@click.option("--zero", type=click.Choice(["A", "B"]), help="Level of the rotations, IEC 61188-7.")
@click.option(
    "--bottom",
    type=click.Choice(["as-placed", "through-top-mirrored-y", "through-top-mirrored-x"]),
    help="The list's convention for rotations on the bottom.",
)
@click.option(
    "--bottom-positions",
    type=click.Choice(["through-top", "as-placed", "x-negated"]),
    help="How positions on the bottom are stated.",
)
@click.option("--origin", type=(float, float), metavar="X Y", help="The list's origin, mm.")
@click.option(
    "--board", type=(float, float), metavar="WIDTH HEIGHT", help="A new board's size, mm."
)
@click.option(
    "--column",
    "named",
    multiple=True,
    callback=_pairs,
    metavar="MEANING=NAME",
    help="The column of a meaning, for example x=Mid-X (repeatable).",
)
@click.option(
    "--part",
    "parts",
    multiple=True,
    callback=_pairs,
    metavar="CALLED=PART",
    help="The part for a name in the list (repeatable).",
)
@click.option(
    "--not-fitted",
    multiple=True,
    metavar="WORD",
    help="A value that means not fitted, for example NC (repeatable).",
)
@click.option(
    "--fitted",
    "fitted_words",
    multiple=True,
    metavar="WORD",
    help="A value that is a part's name, or a reference to place (repeatable).",
)
@write_option
@common("json")
def import_(
    options: Options,
    list_file: FilePath,
    job: str,
    bill_file: FilePath | None,
    bill_encoding: str | None,
    bill_named: dict[str, str],
    units: str | None,
    decimal: str | None,
    encoding: str | None,
    delimiter: str | None,
    side: str | None,
    zero: str | None,
    bottom: str | None,
    bottom_positions: str | None,
    origin: tuple[float, float] | None,
    board: tuple[float, float] | None,
    named: dict[str, str],
    parts: dict[str, str],
    not_fitted: tuple[str, ...],
    fitted_words: tuple[str, ...],
    write: bool,
) -> int:
    """Read a placement LIST into a job.

    Columns are found by their names. If a list can be read in two ways, nothing is guessed: an
    option decides. New parts get an entry with the values that the list has.
    """
    from jobcheck.commands.import_list import import_list
    from jobcheck.commands.import_reading import Request
    from jobcheck.reports.text.import_list import import_data, import_text
    from jobcheck.sources.lists.columns import DECLARABLE
    from jobcheck.sources.lists.options import ListOptions

    if unknown := [m for m in (*named, *bill_named) if m not in DECLARABLE]:
        raise click.UsageError(f"{unknown[0]} is not a meaning; meanings: {', '.join(DECLARABLE)}.")
    declared = ListOptions(named, units, encoding, delimiter, decimal, side, None, origin or (0, 0))
    said = {"zero": zero, "bottom": bottom, "bottom_positions": bottom_positions}
    conventions = {key: value for key, value in said.items() if value}
    fitted = {word.lower(): word in fitted_words for word in (*not_fitted, *fitted_words)}
    of_bill = ListOptions(bill_named, encoding=bill_encoding)
    request = Request(
        list_file, job, bill_file, declared, of_bill, conventions, parts, fitted, board
    )
    root = options.root
    result = import_list(root, request, write=write)
    if options.format == "json":
        show_json(options, import_data(result))
    else:
        options.streams.show(import_text(result, options.call_about(root), options.quiet))
    return NOT_UNDERSTOOD if result.questions else OK
