"""What every command takes, and how a command gets it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import click

from jobcheck.commands.calls import Call, CallRefused
from jobcheck.reports.text.terminal import Streams

OK, FOUND, NOT_UNDERSTOOD, BROKEN = 0, 1, 2, 3
"""Exit codes: nothing found; found or differs; call or file not understood; a fault of ours."""


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


def parse_day(_ctx: click.Context, _option: click.Parameter, text: str | None) -> date | None:
    """Read a date as `2026-11-25`.

    Raises:
        click.BadParameter: it is none.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text} is no date; write it as 2026-11-25.") from None


def common(function: Callable[..., Any]) -> Callable[..., Any]:
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
                callback=parse_day,
                metavar="DATE",
                help="Judge as on this day; default: today.",
            ),
        )
    ):
        with_options = add(with_options)
    return with_options


def show_json(options: Options, data: Any) -> None:
    """Report data for programs."""
    options.streams.show([json.dumps(data, indent=2, ensure_ascii=False)])


def refuse_format(options: Options, *known: str) -> None:
    """Refuse a format that a command does not have.

    Raises:
        CallRefused: the call asks for another than text and those that are known.
    """
    if options.format not in ("text", *known):
        raise CallRefused(
            f"This command has no --format {options.format}; it has {', '.join(('text', *known))}."
        )
