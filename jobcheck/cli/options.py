"""What every command takes, and how a command gets it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import click

from jobcheck.findings import CallRefused, Command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.terminal import Streams
from jobcheck.sources.state.shops import shop_root
from jobcheck.sources.state.state import folder_state, shop_above

if TYPE_CHECKING:
    from jobcheck.sources.bridge.controller import Controller

OK, FOUND, NOT_UNDERSTOOD, BROKEN = 0, 1, 2, 3
"""Exit codes: nothing found; found or differs; call or file not understood; a fault of ours."""


@dataclass(frozen=True)
class BothSides:
    """Adds `--deliver` to a proposed restore; the shop is read when the first is proposed."""

    root: FilePath
    folder: FilePath | None

    @cached_property
    def _controller(self) -> Controller | None:
        from jobcheck.commands.lint import controller_of
        from jobcheck.sources.shop_reader import read_shop

        return controller_of(read_shop(folder_state(self.root)), self.folder)

    def __call__(self, proposed: Command) -> Command:
        """Return a proposed command, for both sides where it is a restore of one."""
        is_restore = proposed.arguments[:1] == ("restore",) and not proposed.program
        if not is_restore or self._controller is None:
            return proposed
        return self._controller.delivering(proposed)


@dataclass(frozen=True)
class Options:
    """What every command takes."""

    program: str
    streams: Streams
    shop: str | None = None
    format: str = "text"
    quiet: bool = False
    as_of: date = date.min
    controller: FilePath | None = None

    @property
    def root(self) -> FilePath:
        """The folder of the shop that the call is about.

        Raises:
            CallRefused: no shop was found.
        """
        return shop_root(self.shop)

    @property
    def call(self) -> Call:
        """How the program was called, and from where."""
        return self.call_from("")

    def call_from(self, folder: str) -> Call:
        """Return the call as it is typed in a folder below the current one."""
        here = FilePath.cwd() / folder
        return Call(self.program, None, here, shop_above(here), self.controller)

    def call_if_known(self) -> Call:
        """Return the call about its shop, if there is one."""
        try:
            return self.call_about(self.root)
        except CallRefused:
            return self.call

    def call_about(self, root: FilePath) -> Call:
        """Return the call about the shop in a folder."""
        return self.call.about(root)._replace(both_sides=BothSides(root, self.controller))


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
        raise click.BadParameter(f"{text} is not a date; write it as 2026-11-25.") from None


def common(*formats: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a command the options that every command takes; it gets them as one `Options`.

    `formats` are those that it reports in, beside text.
    """
    return lambda function: _with_common(function, ("text", *formats))


def _with_common(function: Callable[..., Any], formats: tuple[str, ...]) -> Callable[..., Any]:
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
            rest.get("controller"),
        )
        if options.format not in formats:
            raise CallRefused(
                f"This command has no --format {options.format}; it has {', '.join(formats)}."
            )
        if context.parent is None:
            context.obj = options
        try:
            code = function(options, **rest)
        except CallRefused as refused:
            streams.refuse(refused, options.call_if_known())
            code = NOT_UNDERSTOOD
        if code is not None:
            context.exit(code)

    with_options.__name__ = function.__name__
    with_options.__doc__ = function.__doc__
    with_options.__click_params__ = getattr(function, "__click_params__", [])  # type: ignore[attr-defined]
    for add in reversed(
        (
            click.option(
                "--shop", metavar="FOLDER", help="The shop; default: this folder or one above."
            ),
            click.option(
                "--format",
                type=click.Choice(formats),
                help="How to report; default: text.",
            ),
            click.option("--quiet", is_flag=True, help="Print results only."),
            click.option(
                "--color", type=click.Choice(["auto", "always", "never"]), help="Default: auto."
            ),
            click.option(
                "--as-of",
                callback=parse_day,
                metavar="DATE",
                help="Use this day as today.",
            ),
        )
    ):
        with_options = add(with_options)
    return with_options


def show_json(options: Options, data: Any) -> None:
    """Report data for programs."""
    options.streams.show([json.dumps(data, indent=2, ensure_ascii=False)])


KINDS = ("xml", "json", "yaml", "toml", "ini", "csv")

write_option = click.option(
    "--write", is_flag=True, help="Write it; without this it is only previewed."
)


def _controller_folder(
    context: click.Context, _option: click.Parameter, folder: FilePath | None
) -> FilePath | None:
    """Return the folder, whole; a hook, which all machines share, may name one of another machine.

    Raises:
        click.BadParameter: it is not a folder.
    """
    if folder is None:
        return None
    whole = folder.expanduser().absolute()
    if not whole.is_dir() and not context.params.get("staged"):
        raise click.BadParameter(f"{folder} is not a folder: the controller's files are not there.")
    return whole


controller_option = click.option(
    "--controller",
    type=click.Path(path_type=FilePath),
    callback=_controller_folder,
    metavar="FOLDER",
    help="The folder of the controller's files; default: the shop.",
)


def file_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options about a controller's file: `kind`, `key_column`, `encoding`."""
    for add in (
        click.option("--encoding", metavar="NAME", help="The encoding of FILE; default: UTF-8."),
        click.option(
            "--key-column", metavar="NAME", help="The column that names the rows of a CSV file."
        ),
        click.option(
            "--kind", type=click.Choice(KINDS), help="The format of FILE; default: by its ending."
        ),
    ):
        function = add(function)
    return function
