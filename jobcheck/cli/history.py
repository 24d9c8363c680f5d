"""`jobcheck history`."""

from __future__ import annotations

from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json


@cli.command()
@common("json")
def history(options: Options) -> int:
    """List the known-good records, verified.

    Each with its evidence, what was signed for, and its withdrawal.
    """
    from jobcheck.commands.history import history
    from jobcheck.known_good.store import Record
    from jobcheck.reports.text.records import history_data, history_text

    root = options.root
    records = history(root)
    if options.format == "json":
        show_json(options, history_data(records))
    else:
        options.streams.show(history_text(records, root.name))
    return OK if all(isinstance(found, Record) for found in records) else FOUND
