"""The command line: parse arguments, call one function, choose a report, return an exit code."""

from __future__ import annotations

import gc
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path as FilePath
from typing import Any, TextIO

import click

from jobcheck import __version__
from jobcheck.commands.calls import Call, CallRefused, shop_root
from jobcheck.reports.terminal import Streams

OK, FOUND, NOT_UNDERSTOOD, BROKEN = 0, 1, 2, 3

HABITS = {
    "log": "history",
    "records": "history",
    "check": "lint",
    "validate": "lint",
    "init": "new",
    "create": "new",
    "status": "jobcheck, without a word,",
    "state": "jobcheck, without a word,",
    "save": "keep",
    "record": "keep",
    "commit": "keep",
    "revert": "withdraw",
    "undo": "restore",
    "compare": "diff",
    "stamp": "retuned",
    "help": "jobcheck --help",
}
"""Words that people type from habit, and what they look for."""


@dataclass(frozen=True)
class Options:
    """What every command takes."""

    program: str
    streams: Streams
    shop: str | None = None
    format: str = "text"
    quiet: bool = False
    as_of: date = date.min

    @property
    def call(self) -> Call:
        """How the program was called."""
        return Call(self.program, self.shop)


class _Commands(click.Group):
    """The commands; a word from habit is answered with the right one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        word = args[0]
        if self.get_command(ctx, word) is None and not word.startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(word, [*self.list_commands(ctx), *HABITS], n=2)
            wanted = " or ".join(dict.fromkeys(HABITS.get(found, found) for found in near))
            hint = f" You may want: {wanted}." if wanted else ""
            raise click.UsageError(f"There is no command {word}.{hint}", ctx)
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


def _day(_ctx: click.Context, _option: click.Parameter, text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text} is no date; write it as 2026-11-25.") from None


def _common(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that every command takes; it gets them as one `Options`."""

    def with_options(
        shop: str | None,
        format: str | None,
        quiet: bool,
        color: str | None,
        as_of: date | None,
        **rest: Any,
    ) -> None:
        context = click.get_current_context()
        outer: Options = context.find_root().obj
        streams = Streams(outer.streams.out, outer.streams.err, color or outer.streams.color)
        options = Options(
            outer.program,
            streams,
            shop if shop is not None else outer.shop,
            format or outer.format,
            quiet or outer.quiet,
            as_of or (outer.as_of if outer.as_of != date.min else date.today()),
        )
        if context.parent is None:
            context.obj = options
        code = function(options, **rest)
        if code is not None:
            context.exit(code)

    with_options.__name__ = function.__name__
    with_options.__doc__ = function.__doc__
    with_options.__click_params__ = getattr(function, "__click_params__", [])  # type: ignore[attr-defined]
    for add in reversed(
        (
            click.option("--shop", metavar="FOLDER", help="The shop; default: here or above."),
            click.option(
                "--format",
                type=click.Choice(["text", "lines", "json", "sarif"]),
                help="How to report; lines, json and sarif are for programs.",
            ),
            click.option("--quiet", is_flag=True, help="Only findings and the exit code."),
            click.option("--color", type=click.Choice(["auto", "always", "never"])),
            click.option(
                "--as-of",
                callback=_day,
                metavar="DATE",
                help="Judge as on this day; default: today.",
            ),
        )
    ):
        with_options = add(with_options)
    return with_options


def _json(options: Options, data: Any) -> None:
    options.streams.show([json.dumps(data, indent=2, ensure_ascii=False)])


def _refuse_format(options: Options, *known: str) -> None:
    if options.format not in ("text", *known):
        raise CallRefused(
            f"This command has no --format {options.format}; it has {', '.join(('text', *known))}."
        )


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="Exit codes: 0 nothing found, 1 found or differs, 2 call or file not understood, 3 a "
    "fault in jobcheck.",
)
@click.version_option(__version__, message="%(prog)s %(version)s")
@_common
def cli(options: Options) -> int | None:
    """Checks the description of a placement machine and its jobs.

    It says what is contradictory, impossible, suspicious, or lost since it last worked. Without a
    command: the state of the shop.
    """
    if click.get_current_context().invoked_subcommand is not None:
        return None
    raise CallRefused("not yet")


@cli.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=FilePath), metavar="[PATH]...")
@click.option("--staged", is_flag=True, help="Lint what is staged in git, for the hook.")
@click.option("--only", multiple=True, metavar="RULE", help="Run only this rule (repeatable).")
@click.option("--skip", multiple=True, metavar="RULE", help="Do not run this rule (repeatable).")
@click.option("--strict", is_flag=True, help="Warnings fail too.")
@_common
def lint(
    options: Options,
    paths: tuple[FilePath, ...],
    staged: bool,
    only: tuple[str, ...],
    skip: tuple[str, ...],
    strict: bool,
) -> int:
    """Check the whole shops that PATH... belong to; default: the shop here."""
    states = _touched(options, paths) if staged else None
    if staged and not (states or only or skip or options.format in ("json", "sarif")):
        return OK  # no shop is touched: load nothing more
    from jobcheck.commands.lint import chosen_rules, exit_code, lint_paths, lint_states

    rules = chosen_rules(only, skip)
    if states is None:
        shops = lint_paths(paths or (shop_root(options.shop),), rules, options.as_of)
    else:
        shops = lint_states(states, rules, options.as_of)
    _report_lint(options, shops, staged)
    return exit_code(shops, strict)


def _touched(options: Options, paths: tuple[FilePath, ...]) -> dict[FilePath, Any]:
    from jobcheck.commands.staged import touched_shops

    if paths:
        raise CallRefused("--staged reads the index alone: give no path with it.")
    return touched_shops(options.shop)


def _report_lint(options: Options, shops: Any, staged: bool) -> None:
    if options.format == "json":
        from jobcheck.reports.findings_data import lint_data

        _json(options, lint_data(shops))
    elif options.format == "sarif":
        from jobcheck.reports.findings_data import lint_sarif

        _json(options, lint_sarif(shops))
    elif options.format == "lines":
        from jobcheck.reports.findings_text import lines_text

        options.streams.show(lines_text(shops))
    else:
        from jobcheck.reports.findings_text import lint_text

        lines = lint_text(shops, options.call, staged=staged, quiet=options.quiet)
        options.streams.show(lines)


@cli.command()
@click.option("--page", is_flag=True, help="Print the page of all rules in Markdown.")
@_common
def rules(options: Options, page: bool) -> int:
    """List what is checked."""
    from jobcheck.commands.rules import areas
    from jobcheck.reports.rules_text import rules_data, rules_page, rules_text

    _refuse_format(options, "json")
    if options.format == "json":
        _json(options, rules_data(areas()))
    else:
        options.streams.show([rules_page(areas()).rstrip("\n")] if page else rules_text(areas()))
    return OK


@cli.command()
@click.argument("rule")
@_common
def explain(options: Options, rule: str) -> int:
    """Explain one RULE: what it checks, what happens on the machine, the fix, the source."""
    from jobcheck.commands.rules import explained
    from jobcheck.reports.rules_text import explained_text

    _refuse_format(options)
    options.streams.show(explained_text(rule, explained(rule)))
    return OK


@cli.command()
@click.argument("folder", type=click.Path(path_type=FilePath))
@_common
def new(options: Options, folder: FilePath) -> int:
    """Put a small working shop into FOLDER; nothing that stands there is changed."""
    from jobcheck.commands.new import new_shop
    from jobcheck.reports.new_text import new_text

    _refuse_format(options)
    options.streams.show(new_text(new_shop(folder), options.call))
    return OK


@cli.command()
@click.option(
    "--output", type=click.Path(path_type=FilePath), metavar="FOLDER", help="Write them there."
)
@_common
def schema(options: Options, output: FilePath | None) -> int:
    """Print the JSON Schemas of the description, or write them into a folder."""
    from jobcheck.commands.schema import schemas, write_schemas

    _refuse_format(options, "json")
    if output is None:
        options.streams.show(["{", *_joined(schemas()), "}"])
    else:
        options.streams.show([f"Written: {path.as_posix()}" for path in write_schemas(output)])
    return OK


def _joined(made: dict[str, str]) -> list[str]:
    entries = [f"{json.dumps(name)}: {text.rstrip()}" for name, text in made.items()]
    return [entry + ("," if entry != entries[-1] else "") for entry in entries]


def main(
    argv: Sequence[str],
    out: TextIO = sys.stdout,
    err: TextIO = sys.stderr,
    program: str = "jobcheck",
) -> int:
    """Run one command line and return its exit code; results go to `out`, complaints to `err`."""
    streams = Streams(out, err)
    try:
        result = cli.main(
            args=list(argv),
            prog_name="jobcheck",
            standalone_mode=False,
            obj=Options(program, streams),
        )
        return result if isinstance(result, int) else OK
    except click.exceptions.Exit as ended:
        return ended.exit_code
    except click.UsageError as error:
        streams.complain(error.format_message() + _see_help(error, program))
        return NOT_UNDERSTOOD
    except CallRefused as error:
        streams.complain(str(error))
        return NOT_UNDERSTOOD
    except (KeyboardInterrupt, click.Abort):
        streams.complain("Stopped. Files are as they were, or whole as asked.")
        return 130
    except BrokenPipeError:
        _quiet_pipe()
        return OK
    except Exception as error:  # the one place that turns a fault of ours into a report
        streams.complain(_crash_report(error, argv))
        return BROKEN


def _see_help(error: click.UsageError, program: str) -> str:
    context = error.ctx
    return f" See: {program} {context.info_name} --help" if context and context.parent else ""


def _quiet_pipe() -> None:
    """Keep Python from complaining at exit about a reader that went away."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _crash_report(error: Exception, argv: Sequence[str]) -> str:
    """Word a fault of ours: short, without private paths, to be pasted as it stands."""
    import platform
    import traceback

    frames = [
        f"  {FilePath(frame.filename).name}:{frame.lineno} {frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
    ]
    return "\n".join(
        [
            "This is a fault in jobcheck, not in your files. Please report it with these lines:",
            f"  jobcheck {__version__}, Python {platform.python_version()}, {platform.system()}",
            f"  command: {' '.join(argv[:1])}",
            f"  {type(error).__name__}: {error}",
            *frames[-8:],
        ]
    )


def run() -> None:
    """Run the command line of this process: the console command."""
    # A short process that makes no circles: the cyclic collector would only cost time. And no other
    # installed package may change how a description is validated, nor cost the search for it.
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(main(sys.argv[1:], sys.stdout, sys.stderr, _program()))


def _program() -> str:
    """Return how this program was called, so that what it proposes can be pasted."""
    called = FilePath(sys.argv[0])
    if called.name == "__main__.py":
        return f"{FilePath(sys.executable).name} -m jobcheck"
    return called.name if os.sep not in sys.argv[0] or called.is_absolute() else sys.argv[0]
