"""One command line: parse it, call one function, choose a report, return an exit code."""

from __future__ import annotations

import errno
import sys
from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import TextIO

import click

from jobcheck import __version__
from jobcheck.cli.group import cli
from jobcheck.cli.options import BROKEN, NOT_UNDERSTOOD, OK, Options
from jobcheck.findings import CallRefused
from jobcheck.reports.calls import Call
from jobcheck.reports.text.terminal import Streams


def main(
    argv: Sequence[str],
    out: TextIO = sys.stdout,
    err: TextIO = sys.stderr,
    program: str = "jobcheck",
) -> int:
    """Run one command line and return its exit code; results go to `out`, complaints to `err`."""
    streams = Streams(out, err)
    try:
        FilePath.cwd()
    except OSError:
        streams.complain("The current folder was deleted. Change to one that is there.")
        return NOT_UNDERSTOOD
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
        streams.complain(f"{error.format_message().rstrip('.')}.{_see_help(error, program)}")
        return NOT_UNDERSTOOD
    except CallRefused as error:
        streams.refuse(error, Call(program))
        return NOT_UNDERSTOOD
    except (KeyboardInterrupt, click.Abort):
        streams.complain("Stopped. Files are as they were, or whole as asked.")
        return 130
    except MemoryError:
        raise  # the process says so, once the frames that took the memory are gone
    except BrokenPipeError:
        return OK
    except OSError as error:
        if error.errno != errno.ENAMETOOLONG:
            streams.complain(_crash_report(error, argv))
            return BROKEN
        streams.complain("A name in the command line is longer than a file's name may be.")
        return NOT_UNDERSTOOD
    except Exception as error:  # the one place that turns a fault of ours into a report
        streams.complain(_crash_report(error, argv))
        return BROKEN


def _see_help(error: click.UsageError, program: str) -> str:
    context = error.ctx
    return f" See: {program} {context.info_name} --help" if context and context.parent else ""


def _crash_report(error: Exception, argv: Sequence[str]) -> str:
    """Return the report of a fault of ours: short, without private paths, ready to paste."""
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
