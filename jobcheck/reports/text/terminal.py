"""Printing: plain where a program reads, with emphasis where a person looks."""

from __future__ import annotations

import os
from typing import NamedTuple, TextIO

from jobcheck.findings import CallRefused
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import Line, paragraph, visible

_STYLES = {
    "error": "bold red",
    "warning": "bold yellow",
    "note": "bold cyan",
    "label": "dim",
    "next": "bold",
}


class Streams(NamedTuple):
    """Where results and complaints go, and whether results are emphasised."""

    out: TextIO
    err: TextIO
    color: str = "auto"

    def show(self, lines: list[str]) -> None:
        """Print a result.

        Raises:
            CallRefused: the output cannot be written, for example on a full disk.
        """
        if not lines:
            return
        lines = [shown for line in lines for shown in _shown(line)]
        try:
            if self._emphasises():
                self._show_emphasised(lines)
            else:
                self.out.write("\n".join(lines) + "\n")
                self.out.flush()
        except BrokenPipeError:
            raise
        except OSError as error:
            raise CallRefused(f"The output cannot be written: {error.strerror}.") from None

    def refuse(self, refused: CallRefused, call: Call) -> None:
        """Print why a call is refused, and what to do instead: each command on its own line."""
        steps = [
            step if isinstance(step, str) else Line(f"  {call.typed(step)}", "whole")
            for step in refused.remedy
        ]
        self.complain(str(refused), *steps)

    def complain(self, *messages: str) -> None:
        """Print what is wrong with the call."""
        lines: list[str] = []
        for message in messages:
            for part in [message] if isinstance(message, Line) else message.split("\n"):
                lines += [part] if isinstance(part, Line) else paragraph(part, _margin(part), "")
        self.err.write("\n".join(map(visible, lines)) + "\n")
        self.err.flush()

    def _emphasises(self) -> bool:
        if self.color != "auto":
            return self.color == "always"
        plain = "NO_COLOR" in os.environ or os.environ.get("TERM") == "dumb"
        return self.out.isatty() and not plain

    def _show_emphasised(self, lines: list[str]) -> None:
        from rich.console import Console
        from rich.text import Text

        console = Console(file=self.out, force_terminal=True, soft_wrap=True, highlight=False)
        for line in lines:
            text = Text(line)
            if isinstance(line, Line):
                text.stylize(_STYLES[line.style], 0, line.styled)
            console.print(text)


def _shown(line: str) -> list[str]:
    """Return a line as it can be printed; several where it holds line ends."""
    if isinstance(line, Line) and line.isprintable():
        return [line]
    return [visible(part) for part in line.split("\n")]


def _margin(line: str) -> str:
    return line[: len(line) - len(line.lstrip())]
