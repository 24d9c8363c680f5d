"""`jobcheck restore`."""

from __future__ import annotations

from pathlib import Path as FilePath

import click

from jobcheck.cli.completion import complete_state, selections_argument
from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    OK,
    Options,
    common,
    controller_option,
    show_json,
    write_option,
)
from jobcheck.findings import command


@cli.command()
@selections_argument
@click.option(
    "--from",
    "state",
    default="good",
    metavar="STATE",
    shell_complete=complete_state,
    help="The state to restore from; default: good, the last known-good record.",
)
@write_option
@click.option("--deliver", is_flag=True, help="Write it into the controller's files too.")
@controller_option
@common("json")
def restore(
    options: Options,
    selections: tuple[str, ...],
    state: str,
    write: bool,
    deliver: bool,
    controller: FilePath | None,
) -> int:
    """Put the selected part of a state back, and nothing else.

    A SELECTION is a path into the description, as findings print it: cameras.up,
    feeders.f03.pick, parts.10k-0603.
    """
    from jobcheck.commands.restore import restore
    from jobcheck.devices import system as devices
    from jobcheck.reports.text.proposals import restored_data, restored_text

    if deliver:
        return _with_delivery(options, selections, state, write, controller)
    root = options.root
    restored = restore(root, selections, state, write=write, controller=controller)
    if write:
        restored = restored.beside(devices.Linux())
    if options.format == "json":
        show_json(options, restored_data(restored))
    else:
        options.streams.show(restored_text(restored, options.call_about(root), options.quiet))
    return OK


def _with_delivery(
    options: Options,
    selections: tuple[str, ...],
    state: str,
    write: bool,
    controller: FilePath | None,
) -> int:
    from jobcheck.commands.deliver import restore_and_deliver
    from jobcheck.devices import system as devices
    from jobcheck.reports.text.bridge import both_sides_text, delivered_data
    from jobcheck.reports.text.proposals import restored_data

    root = options.root
    restored, delivered = restore_and_deliver(
        root, selections, state, controller=controller, write=write
    )
    if write:
        restored = restored.beside(devices.Linux())
    if options.format == "json":
        show_json(options, {**restored_data(restored), "delivered": delivered_data(delivered)})
        return OK
    call = options.call_about(root)
    source = () if state == "good" else ("--from", state)
    asked = command("restore", *selections, *source, "--deliver")
    lines = both_sides_text(restored, delivered, call, asked, options.quiet)
    options.streams.show(lines)
    return OK
