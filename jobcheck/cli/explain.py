"""`jobcheck explain`."""

from __future__ import annotations

import click

from jobcheck.cli.completion import complete_rule
from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common
from jobcheck.findings import CallRefused


@cli.command()
@click.argument("rule", metavar="RULE|KEY", shell_complete=complete_rule)
@common()
def explain(options: Options, rule: str) -> int:
    """Explain one RULE, or one KEY of the description."""
    if explain.__doc__ is None:
        raise CallRefused("Python runs without documentation (-OO): start it without that option.")
    from jobcheck.commands.explain import explained
    from jobcheck.reports.text.rules import explained_text

    options.streams.show(explained_text(rule, explained(rule)))
    return OK
