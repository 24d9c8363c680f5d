"""The command itself, and the answer to an unknown command."""

from __future__ import annotations

from importlib import import_module

import click

from jobcheck import __version__
from jobcheck.cli.options import OK, Options, common, show_json

COMMANDS = (
    "lint",
    "diff",
    "restore",
    "keep",
    "history",
    "withdraw",
    "seen",
    "set",
    "retuned",
    "checked",
    "accept",
    "rules",
    "explain",
    "where",
    "import",
    "gather",
    "deliver",
    "find",
    "new",
    "trial",
    "proof",
    "preflight",
    "used",
    "repeatability",
    "capability",
    "sheet",
    "picture",
    "schema",
)
"""Each command, in the order of the help; its module is named after it."""

MODULES = {"import": "import_list"}
"""Commands whose module has another name, as `import` is a word of the language."""

HABITS = {
    "log": "history",
    "records": "history",
    "check": "lint",
    "validate": "lint",
    "init": "new",
    "create": "new",
    "status": "jobcheck without a word",
    "state": "jobcheck without a word",
    "save": "keep",
    "record": "keep",
    "commit": "keep",
    "revert": "withdraw",
    "undo": "restore",
    "compare": "diff",
    "stamp": "retuned",
    "pull": "gather",
    "sync": "gather",
    "push": "deliver",
    "search": "find",
    "help": "jobcheck --help",
}
"""Words that people type from habit, and what they look for."""


class _Commands(click.Group):
    """The commands; a word from habit is answered with the right one."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name in COMMANDS:
            import_module(f"jobcheck.cli.{MODULES.get(cmd_name, cmd_name)}")
        return super().get_command(ctx, cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        word = args[0]
        if self.get_command(ctx, word) is None and not word.startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(word, [*self.list_commands(ctx), *HABITS], n=2)
            wanted = " or ".join(dict.fromkeys(HABITS.get(found, found) for found in near))
            hint = f" You may want: {wanted}." if wanted else ""
            raise click.UsageError(f"Command {word} does not exist.{hint}", ctx)
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="Exit codes: 0 no error, no difference; 1 errors or differences; 2 the call or a file "
    "is not understood; 3 a fault in jobcheck.",
)
@click.version_option(__version__, message="%(prog)s %(version)s")
@common("json")
def cli(options: Options) -> int | None:
    """Checks the description of a placement machine and its jobs.

    It finds values that are contradictory, impossible, suspicious, or lost since the machine last
    worked, and names what it could not check. Without a command it shows the state of the shop.
    """
    if click.get_current_context().invoked_subcommand is not None:
        return None
    from jobcheck.commands.overview import overview
    from jobcheck.reports.text.overview import overview_data, overview_text

    root = options.root
    state = overview(root, options.as_of)
    if options.format == "json":
        show_json(options, overview_data(state))
    else:
        options.streams.show(overview_text(state, options.call_about(root)))
    return OK
