"""`jobcheck import`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json, write_option
from jobcheck.findings import Command, command


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
@click.option("--job", required=True, metavar="NAME", help="The job that takes it, or a new one.")
@click.option(
    "--bill", "bill_file", type=click.Path(path_type=FilePath), help="Its bill of materials."
)
@click.option("--units", type=click.Choice(["mm", "mil", "inch", "um", "cm"]))
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal mark.")
@click.option("--encoding", metavar="NAME", help="As windows-1252; UTF-8 where not given.")
@click.option("--delimiter", type=click.Choice(["comma", "semicolon", "tab", "aligned"]))
@click.option("--side", type=click.Choice(["top", "bottom"]), help="The side of all parts.")
@click.option("--zero", type=click.Choice(["A", "B"]), help="Zero orientation, IEC 61188-7.")
@click.option(
    "--bottom",
    type=click.Choice(["as-placed", "through-top-mirrored-y", "through-top-mirrored-x"]),
    help="How rotations on the bottom are stated.",
)
@click.option("--origin", type=(float, float), metavar="X Y", help="The list's origin, mm.")
@click.option(
    "--column",
    "named",
    multiple=True,
    callback=_pairs,
    metavar="MEANING=NAME",
    help="The column of a meaning, as x=Mid-X (repeatable).",
)
@click.option(
    "--part",
    "parts",
    multiple=True,
    callback=_pairs,
    metavar="CALLED=PART",
    help="The part that the list calls so (repeatable).",
)
@write_option
@common("json")
def import_(
    options: Options,
    list_file: FilePath,
    job: str,
    bill_file: FilePath | None,
    units: str | None,
    decimal: str | None,
    encoding: str | None,
    delimiter: str | None,
    side: str | None,
    zero: str | None,
    bottom: str | None,
    origin: tuple[float, float] | None,
    named: dict[str, str],
    parts: dict[str, str],
    write: bool,
) -> int:
    """Read a placement LIST of any shape into a job.

    Columns are recognised by their names; what can be read in two ways is asked for. Parts that
    the shop does not know get an entry with what the list says of them.
    """
    from jobcheck.commands.import_list import Request, import_list
    from jobcheck.reports.text.import_list import import_data, import_text
    from jobcheck.sources.lists.meanings import DECLARABLE
    from jobcheck.sources.lists.options import ListOptions

    if unknown := [meaning for meaning in named if meaning not in DECLARABLE]:
        raise click.UsageError(
            f"There is no meaning {unknown[0]}; there are {', '.join(DECLARABLE)}."
        )
    declared = ListOptions(named, units, encoding, delimiter, decimal, side, None, origin or (0, 0))
    conventions = {key: said for key, said in (("zero", zero), ("bottom", bottom)) if said}
    request = Request(list_file, job, bill_file, declared, conventions, parts)
    root = options.root
    result = import_list(root, request, write=write)
    if options.format == "json":
        show_json(options, import_data(result))
    else:
        call = options.call_about(root)
        options.streams.show(import_text(result, call, _asked(request), options.quiet))
    return FOUND if write and not result.is_decided else OK


def _asked(request: object) -> Command:
    """Return the call as a command, so that what it proposes can be pasted."""
    from jobcheck.commands.import_list import Request

    assert isinstance(request, Request)
    said = request.options
    words = [str(request.list_file), "--job", request.job]
    words += ["--bill", str(request.bill_file)] if request.bill_file else []
    for name in ("units", "decimal", "encoding", "delimiter", "side"):
        value = getattr(said, name)
        words += [f"--{name}", value] if value else []
    for name, value in request.conventions.items():
        words += [f"--{name}", value]
    if said.origin_mm != (0, 0):
        words += ["--origin", *map(str, said.origin_mm)]
    for name, value in said.columns.items():
        words += ["--column", f"{name}={value}"]
    for name, value in request.parts.items():
        words += ["--part", f"{name}={value}"]
    return command("import", *words)
