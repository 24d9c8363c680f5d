"""One writer at a time in a shop."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path as FilePath

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows
    fcntl = None  # type: ignore[assignment]

PATIENCE_S = 10.0
_POLL_S = 0.02
_NO_LOCKS = (errno.EBADF, errno.ENOLCK, errno.ENOTSUP, errno.EINVAL)


@contextmanager
def locked(root: FilePath) -> Iterator[bool]:
    """Lock the shop while something is written; yield whether it is really locked.

    The lock is on the folder itself: it leaves no file behind, and ends with the process,
    however that ends. Without such locks (Windows, some network file systems) nothing is
    locked; every file is still replaced as a whole.

    Raises:
        TimeoutError: another run held it for `PATIENCE_S`.
        OSError: the folder cannot be opened.
    """
    if fcntl is None:
        yield False
        return
    folder = os.open(root, os.O_RDONLY)
    try:
        yield _lock(folder)
    finally:
        os.close(folder)


def _lock(folder: int) -> bool:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if time.monotonic() > until:
                raise TimeoutError from None
            time.sleep(_POLL_S)
        except OSError as error:
            if error.errno in _NO_LOCKS:
                return False
            raise
