"""Commands about the controller's own files."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import click

from jobcheck.cli.completion import selections_argument
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, refuse_format, show_json
from jobcheck.commands.calls import shop_root

KINDS = ("xml", "json", "yaml", "toml", "ini", "csv")

controller_option = click.option(
    "--controller",
    type=click.Path(path_type=FilePath),
    metavar="FOLDER",
    help="Where the controller's files lie; default: the shop's folder.",
)


def file_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command what may have to be told of a controller's file: `kind`, `key_column`..."""
    for add in (
        click.option("--encoding", metavar="NAME", help="Its encoding, where it is not UTF-8."),
        click.option("--key-column", metavar="NAME", help="What names the rows of a CSV file."),
        click.option("--kind", type=click.Choice(KINDS), help="Where its ending does not tell."),
    ):
        function = add(function)
    return function


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
    from jobcheck.reports.text.bridge import checked_text, gathered_data, gathered_text

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


def restore_with_delivery(
    options: Options,
    selections: tuple[str, ...],
    state: str,
    write: bool,
    controller: FilePath | None,
) -> int:
    """Run `restore ... --deliver`."""
    from jobcheck.commands.deliver import restore_and_deliver
    from jobcheck.reports.text.bridge import delivered_data, delivered_text
    from jobcheck.reports.text.proposals import restored_data, restored_text

    restored, delivered = restore_and_deliver(
        shop_root(options.shop), selections, state, controller=controller, write=write
    )
    if options.format == "json":
        show_json(options, {**restored_data(restored), "delivered": delivered_data(delivered)})
        return OK
    source = "" if state == "good" else f" --from {shlex.quote(state)}"
    command = f"restore {shlex.join(selections)}{source} --deliver{controller_words(controller)}"
    lines = restored_text(restored, options.call, options.quiet, is_delivered=True)
    more = delivered_text(delivered, options.call, command)
    if restored.proposal.edited.files and not write and not delivered.delivered.files:
        more += ["", f"To write it: {options.call.command(f'{command} --write')}"]
    options.streams.show([*lines, "", *more])
    return OK


@cli.command()
@click.argument("file", type=click.Path(path_type=FilePath))
@click.argument("value")
@file_options
@common
def find(options: Options, file: FilePath, value: str, **told: str | None) -> int:
    """List the addresses in a controller's FILE at which VALUE stands.

    So that a map is made by looking up numbers that one knows. A number is found however it is
    written, also as one part of a text.
    """
    from jobcheck.commands.find import find_value
    from jobcheck.reports.text.bridge import found_data, found_text

    refuse_format(options, "json")
    found = find_value(file, value, **told)
    if options.format == "json":
        show_json(options, found_data(found))
    else:
        options.streams.show(found_text(found))
    return OK if found.matches else FOUND


@cli.command()
@selections_argument
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
    from jobcheck.reports.text.bridge import delivered_data, delivered_text

    refuse_format(options, "json")
    delivered = put(shop_root(options.shop), selections, controller=controller, write=write)
    if options.format == "json":
        show_json(options, delivered_data(delivered))
    else:
        command = f"deliver {shlex.join(selections)}{controller_words(controller)}"
        options.streams.show(delivered_text(delivered, options.call, command))
    return OK
