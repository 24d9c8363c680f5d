"""Commands about states: what changed, what is known-good, what is put back."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path as FilePath

import click

from jobcheck.cli.bridging import controller_option, restore_with_delivery
from jobcheck.cli.completion import (
    complete_camera,
    complete_label,
    complete_selection,
    complete_state,
    selections_argument,
)
from jobcheck.cli.group import cli
from jobcheck.cli.options import (
    FOUND,
    NOT_UNDERSTOOD,
    OK,
    Options,
    common,
    refuse_format,
    show_json,
)
from jobcheck.commands.calls import shop_root


@cli.command()
@click.argument("folder", required=False, type=click.Path(path_type=FilePath))
@click.option(
    "--from",
    "old",
    default="good",
    metavar="STATE",
    shell_complete=complete_state,
    help="What to compare with; default: good, the last known-good record.",
)
@click.option(
    "--to",
    "new",
    default="now",
    metavar="STATE",
    shell_complete=complete_state,
    help="What to compare; default: now, the files as they are.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="SELECTION",
    shell_complete=complete_selection,
    help="Only this part of the description (repeatable).",
)
@common
def diff(
    options: Options, folder: FilePath | None, old: str, new: str, only: tuple[str, ...]
) -> int:
    """Show what changed, and what that endangers.

    A STATE is now, staged, good, good:LABEL, git:REVISION or a folder. FOLDER is the shop, as with
    --shop.
    """
    from jobcheck.commands.compare import compare
    from jobcheck.reports.text.changes import diff_data, diff_lines, diff_text

    refuse_format(options, "lines", "json")
    if folder is not None:
        options = replace(options, shop=str(folder))
    compared = compare(shop_root(options.shop), old, new, only)
    if options.format == "json":
        show_json(options, diff_data(compared))
    elif options.format == "lines":
        options.streams.show(diff_lines(compared))
    else:
        options.streams.show(diff_text(compared, options.call, options.quiet))
    return FOUND if compared.changes else OK


@cli.command()
@selections_argument
@click.option(
    "--from",
    "state",
    default="good",
    metavar="STATE",
    shell_complete=complete_state,
    help="Where from; default: good, the last known-good record.",
)
@click.option("--write", is_flag=True, help="Write it; without this it is only shown.")
@click.option("--deliver", is_flag=True, help="Put it into the controller's own files as well.")
@controller_option
@common
def restore(
    options: Options,
    selections: tuple[str, ...],
    state: str,
    write: bool,
    deliver: bool,
    controller: FilePath | None,
) -> int:
    """Put the selected part of a state back, touching nothing else.

    A SELECTION is a path into the description, as findings print it: cameras.up,
    feeders.f03.pick, parts.10k-0603.
    """
    from jobcheck.commands.restore import restore
    from jobcheck.reports.text.proposals import restored_data, restored_text

    refuse_format(options, "json")
    if deliver:
        return restore_with_delivery(options, selections, state, write, controller)
    restored = restore(shop_root(options.shop), selections, state, write=write)
    if options.format == "json":
        show_json(options, restored_data(restored))
    else:
        options.streams.show(restored_text(restored, options.call, options.quiet))
    return OK


@cli.command()
@click.option("--label", required=True, metavar="TEXT", help="What to call the record.")
@click.option("--note", metavar="TEXT", help="For people.")
@click.option(
    "--on-purpose",
    multiple=True,
    metavar="SELECTION",
    help="What was lost on purpose (repeatable).",
)
@common
def keep(options: Options, label: str, note: str | None, on_purpose: tuple[str, ...]) -> int:
    """Record the shop as known-good; refused while lint has errors."""
    from jobcheck.commands.records import keep
    from jobcheck.reports.text.records import kept_text

    refuse_format(options)
    root = shop_root(options.shop)
    kept = keep(root, label, options.as_of, note=note, on_purpose=on_purpose)
    options.streams.show(kept_text(kept, options.call, options.quiet))
    if kept.record:
        return OK
    return NOT_UNDERSTOOD if kept.linted.reading.faults else FOUND


@cli.command()
@common
def history(options: Options) -> int:
    """List the known-good records, with evidence and withdrawals."""
    from jobcheck.commands.records import history
    from jobcheck.reports.text.records import history_data, history_text

    refuse_format(options, "json")
    root = shop_root(options.shop)
    records = history(root)
    if options.format == "json":
        show_json(options, history_data(records))
    else:
        options.streams.show(history_text(records, root.name))
    return OK


@cli.command()
@click.argument("label", shell_complete=complete_label)
@click.option("--because", required=True, metavar="TEXT", help="Why it is not good after all.")
@common
def withdraw(options: Options, label: str, because: str) -> int:
    """Mark the record LABEL as not good after all; nothing is deleted."""
    from jobcheck.commands.records import take_back
    from jobcheck.reports.text.records import withdrawn_text

    refuse_format(options)
    record = take_back(shop_root(options.shop), label, because, options.as_of)
    options.streams.show(withdrawn_text(record, options.call))
    return OK


@cli.command()
@click.argument("camera", shell_complete=complete_camera)
@click.argument("listing", type=click.Path(path_type=FilePath))
@click.option("--write", is_flag=True, help="Take over ranges and defaults, and the day.")
@common
def seen(options: Options, camera: str, listing: FilePath, write: bool) -> int:
    """Compare what a CAMERA's device reports with the description.

    Save one with: v4l2-ctl --device /dev/video0 --list-ctrls-menus > LISTING
    """
    from jobcheck.commands.seen import look_at
    from jobcheck.reports.text.seen import seen_data, seen_text

    refuse_format(options, "json")
    seen = look_at(shop_root(options.shop), camera, listing, options.as_of, write=write)
    if options.format == "json":
        show_json(options, seen_data(seen))
    else:
        words = shlex.join([camera, str(listing)])
        options.streams.show(seen_text(seen, options.call, words))
    return FOUND if seen.differing else OK
