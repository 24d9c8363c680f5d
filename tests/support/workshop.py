"""Who keeps the records of examples and transcripts: nobody real, whoever runs the tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

_AS_WORKSHOP = {
    "GIT_CONFIG_COUNT": "1",
    "GIT_CONFIG_KEY_0": "user.name",
    "GIT_CONFIG_VALUE_0": "workshop",
}


@contextmanager
def workshop() -> Iterator[None]:
    """Let git know the workshop as its user, for as long as the block runs."""
    before = {name: os.environ.get(name) for name in _AS_WORKSHOP}
    os.environ.update(_AS_WORKSHOP)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
