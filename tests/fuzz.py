"""Reads and lints mutated shops: no traceback, no hang, no finding without a place.

`python -m tests.fuzz --cases 100000 --seed 1`; a case that fails is told by its number and can be
run alone: `--first NUMBER --cases 1 --keep FOLDER` writes its files.
"""

import argparse
import faulthandler
import io
import json
import pathlib
import signal
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from random import Random
from types import FrameType

from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.commands.rules import summaries
from jobcheck.reports.calls import Call
from jobcheck.reports.data.findings import lint_data, lint_sarif
from jobcheck.reports.text.findings import lines_text, lint_text
from jobcheck.reports.text.terminal import Streams
from jobcheck.rules.registry import RULES
from jobcheck.shop.places import Place
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.generate import AS_OF, Size, make_files, save, with_record
from tests.support.mutate import Files, mutate
from tests.support.write_yaml import Style

BOUND_S = 5.0
"""Seconds of the processor that one small case may take: hundreds of times what it does take."""

_SHOPS = 24


class Failed(Exception):
    """A case broke one of the promises; the message says which."""


@dataclass
class Tally:
    """What a run has seen."""

    cases: int = 0
    said: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    failures: list[str] = field(default_factory=list)


def run(cases: int, seed: int, first: int = 0, keep: pathlib.Path | None = None) -> Tally:
    """Try `cases` mutated shops, from the number `first` on; all failures are collected."""
    tally = Tally()
    for number in range(first, first + cases):
        good, files = case(seed, number)
        if keep:
            save(files, keep)
        begin = time.process_time()
        try:
            with bounded(BOUND_S):
                said = check(good, files, thorough=number % 10 == 0)
        except Exception as error:
            tally.failures.append(f"case {number}: {type(error).__name__}: {str(error)[:500]}")
        else:
            tally.said.update(said)
        tally.slowest = max(tally.slowest, time.process_time() - begin)
        tally.cases += 1
    return tally


def case(seed: int, number: int) -> tuple[Files, Files]:
    """Return a valid shop with a known-good record, and the same damaged.

    The same numbers give the same bytes. The record is damaged in one case of twenty only.
    """
    draw = Random(f"{seed}/{number}")
    good = _shop(draw.randrange(_SHOPS))
    record = {name: data for name, data in good.items() if name.startswith("known-good/")}
    damaged = mutate({name: data for name, data in good.items() if name not in record}, draw)
    return good, damaged | (mutate(record, draw) if draw.random() < 0.05 else record)


@cache
def _shop(index: int) -> Files:
    size = Size(placements=6, parts=4, jobs=1 + index % 2, inline=index % 3 == 0)
    return with_record(make_files(index, size, Style.drawn(index)))


def check(good: Files, files: Files, thorough: bool = False) -> list[str]:
    """Read and lint a damaged shop; return the rules that spoke.

    Raises:
        Failed: something said has no true place, or the same files did not say the same.
    """
    linted = lint_state(pathlib.Path("shop"), _state(files), RULES, AS_OF)
    for finding in linted.findings:
        for place in (finding.place, *(place for place, _ in finding.related)):
            _check_place(place, files, finding.rule)
    _check_reports(linted)
    if thorough:
        after_edit = read_shop(_state(files), like=read_shop(_state(good)))
        if (after_edit.faults, after_edit.shop) != (linted.reading.faults, linted.reading.shop):
            raise Failed("read after the undamaged shop, the same files did not say the same")
    return [finding.rule for finding in linted.findings]


def _state(files: Files) -> State:
    return State("mutated", HeldFiles(files), "shop")


def _check_reports(linted: LintedShop) -> None:
    """Every report can be made, and nothing in the files reaches a terminal as a command."""
    json.dumps(
        [lint_data([linted], Call()), lint_sarif([linted], summaries(), Call())], allow_nan=False
    )
    by_line = lines_text([linted], Call())
    if len(by_line) != len(linted.open):
        raise Failed(f"{len(linted.open)} findings in {len(by_line)} lines")
    shown = io.StringIO()
    Streams(shown, shown, "never").show(lint_text([linted], Call(), staged=False, quiet=False))
    for line in (*by_line, *shown.getvalue().split("\n")):
        if not line.isprintable():
            raise Failed(f"a report with characters that do not print: {line!r}")


def _check_place(place: Place, files: Files, rule: str) -> None:
    """A place names a file, and its line and column are those of its first byte."""
    if place.file not in files and (place.line, place.column, place.end) == (1, 1, 0):
        return  # the file itself is missing
    data = files.get(place.file)
    if data is None:
        raise Failed(f"{rule} at {place}: there is no such file")
    if not 0 <= place.start <= place.end <= len(data):
        raise Failed(f"{rule} at {place}: bytes {place.start} to {place.end} of {len(data)}")
    if place.line < 1 or place.column < 1:
        raise Failed(f"{rule} at {place}: lines and columns count from 1")
    before = data[: place.start].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if before.count(b"\n") + 1 != place.line:
        raise Failed(f"{rule} at {place}: byte {place.start} is in line {before.count(10) + 1}")


@contextmanager
def bounded(seconds: float) -> Iterator[None]:
    """Raise TimeoutError after some seconds of the processor.

    Where even that cannot be raised, or nothing is computed, the process ends with a traceback.
    """
    previous = signal.signal(signal.SIGPROF, _time_is_up)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    faulthandler.dump_traceback_later(60 * seconds, exit=True)
    try:
        yield
    finally:
        faulthandler.cancel_dump_traceback_later()
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, previous)


def _time_is_up(number: int, frame: FrameType | None) -> None:
    raise TimeoutError(f"no answer within {BOUND_S:g} s")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--keep", type=pathlib.Path, help="write the files of each case there")
    given = parser.parse_args()
    faulthandler.enable()
    begin = time.perf_counter()
    tally = run(given.cases, given.seed, given.first, given.keep)
    for rule, times in tally.said.most_common():
        print(f"  {times:>9,}  {rule}")
    print("\n".join(tally.failures[:20]))
    print(
        f"{tally.cases:,} mutated shops in {time.perf_counter() - begin:.0f} s, "
        f"the slowest {tally.slowest:.2f} s: {len(tally.failures)} failures."
    )
    return 1 if tally.failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
