"""Places: where a value is in a file."""

from typing import NamedTuple


class Place(NamedTuple):
    """The place of a value: file, line and column from 1 in code points, bytes from 0.

    `start` and `end` are the bytes of the value itself; both are equal if it means
    something missing or for a whole file.
    """

    file: str
    line: int = 1
    column: int = 1
    start: int = 0
    end: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"
