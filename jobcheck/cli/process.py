"""The process of the console command: how it begins, and how it ends."""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path
from typing import NoReturn, TextIO


def run() -> NoReturn:
    """Run the command line of this process and end it."""
    # A short process that makes no circles: the cyclic collector would only cost time. And no other
    # installed package may change how a description is validated, nor cost the search for it.
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    out, err = _stream(sys.stdout), _stream(sys.stderr)
    code, broken = _run(out, err)
    for stream in (out, err):
        try:
            stream.flush()
        except BrokenPipeError:
            pass  # its reader went away, and wants no more
        except OSError:
            code = code or broken
    # Everything is written and closed; taking a large shop apart again, value by value, would take
    # a tenth of the time that checking it took.
    os._exit(code)


def _run(out: TextIO, err: TextIO) -> tuple[int, int]:
    """Return the exit code, and the one for output that cannot be written."""
    try:
        from jobcheck.cli.main import main
        from jobcheck.cli.options import BROKEN

        return main(sys.argv[1:], out, err, _program()), BROKEN
    except MemoryError:
        pass  # said below, where the frames that took the memory are gone
    err.write("There is not enough memory. Each file is as it was, or whole as asked.\n")
    return 2, 3


def _stream(given: TextIO | None) -> TextIO:
    """Return a stream that can show any text; where the caller closed it, one that goes nowhere."""
    if given is None:
        return open(os.devnull, "w", encoding="utf-8")
    if hasattr(given, "reconfigure"):
        given.reconfigure(errors="backslashreplace")
    return given


def _program() -> str:
    """Return how this program was called, so that what it proposes can be pasted."""
    called = Path(sys.argv[0])
    if called.name == "__main__.py":
        return f"{Path(sys.executable).name} -m jobcheck"
    return called.name if os.sep not in sys.argv[0] or called.is_absolute() else sys.argv[0]
