"""Reading a placement list against `csv.reader` alone with floats converted, in one process.

Seconds of the processor, the collector off as in jobcheck itself; both read the same bytes in turn.
"""

import csv
import gc
import io
import pathlib
import statistics
import sys
import time
from collections.abc import Callable

from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list

_FLOATS = ("x", "y", "rotation")


def by_csv(data: bytes) -> list[list[object]]:
    """Every row with its numbers as floats: no places, no meanings, no checks."""
    rows = csv.reader(io.StringIO(data.decode(), newline=""))
    names = next(rows)
    floats = [names.index(name) for name in _FLOATS]
    read: list[list[object]] = []
    for row in rows:
        cells: list[object] = list(row)
        for at in floats:
            cells[at] = float(row[at])
        read.append(cells)
    return read


def by_us(data: bytes) -> object:
    """What jobcheck reads: rows by reference, each cell with its place on demand."""
    return read_placement_list(data, "list", ListOptions(units="mm"))


def _seconds(read: Callable[[bytes], object], data: bytes) -> float:
    begin = time.process_time()
    read(data)
    return time.process_time() - begin


def compare(data: bytes, rounds: int) -> tuple[list[float], list[float]]:
    """Return the seconds of both in each round."""
    ours, theirs = [], []
    for number in range(rounds + 1):
        pair = _seconds(by_us, data), _seconds(by_csv, data)
        if number:
            ours.append(pair[0])
            theirs.append(pair[1])
    return ours, theirs


def main() -> None:
    gc.disable()
    data, rounds = pathlib.Path(sys.argv[1]).read_bytes(), int(sys.argv[2])
    ours, theirs = compare(data, rounds)
    ratios = [mine / other for mine, other in zip(ours, theirs, strict=True)]
    print(f"  {'':32}{'min ms':>8}{'median ms':>11}{'ratio':>8}")
    for name, taken in (("jobcheck reads the list", ours), ("csv.reader, floats", theirs)):
        print(f"  {name:32}{1000 * min(taken):8.1f}{1000 * statistics.median(taken):11.1f}")
    print(f"  {'median of the ratios':51}{statistics.median(ratios):8.2f}  below 3")


if __name__ == "__main__":
    main()
