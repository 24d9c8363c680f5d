"""Commands about the controller's own files."""

from __future__ import annotations

import shlex
from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_selection
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, refuse_format, show_json
from jobcheck.commands.calls import shop_root

controller_option = click.option(
    "--controller",
    type=click.Path(path_type=FilePath),
    metavar="FOLDER",
    help="Where the controller's files lie; default: the shop's folder.",
)


def controller_words(controller: FilePath | None) -> str:
    """Return the option as it was given, for a command line that is proposed."""
    return f" --controller {shlex.quote(str(controller))}" if controller else ""


@cli.command()
@click.option("--check", is_flag=True, help="Only tell whether both sides say the same; 1 if not.")
@click.option("--write", is_flag=True, help="Write it; without this it is only shown.")
@controller_option
@common
def gather(options: Options, check: bool, write: bool, controller: FilePath | None) -> int:
    """Draw the description from the controller's own files, through the map of the shop.

    What disappeared from the files is taken out of the description: it is lost.
    """
    from jobcheck.commands.gather import gather as draw
    from jobcheck.reports.bridge_text import checked_text, gathered_data, gathered_text

    refuse_format(options, "json")
    if check and write:
        raise click.UsageError("--check only looks: leave out --write.")
    gathered = draw(
        shop_root(options.shop), options.as_of, controller=controller, write=write and not check
    )
    if options.format == "json":
        show_json(options, gathered_data(gathered))
    elif check:
        options.streams.show(checked_text(gathered, options.call))
    else:
        command = f"gather{controller_words(controller)}"
        options.streams.show(gathered_text(gathered, options.call, command, options.quiet))
    return FOUND if check and gathered.differing else OK


@cli.command()
@click.argument(
    "selections",
    nargs=-1,
    required=True,
    metavar="SELECTION...",
    shell_complete=complete_selection,
)
@click.option("--write", is_flag=True, help="Write it; without this it is only shown.")
@controller_option
@common
def deliver(
    options: Options, selections: tuple[str, ...], write: bool, controller: FilePath | None
) -> int:
    """Put values of the description into the controller's own files.

    Settings are delivered; measurements only where a SELECTION names them; counts never.
    """
    from jobcheck.commands.deliver import deliver as put
    from jobcheck.reports.bridge_text import delivered_data, delivered_text

    refuse_format(options, "json")
    delivered = put(shop_root(options.shop), selections, controller=controller, write=write)
    if options.format == "json":
        show_json(options, delivered_data(delivered))
    else:
        command = f"deliver {shlex.join(selections)}{controller_words(controller)}"
        options.streams.show(delivered_text(delivered, options.call, command))
    return OK
