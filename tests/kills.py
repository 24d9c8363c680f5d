"""Kills a command at any moment and sees that every file is the old or the new one, whole.

`python -m tests.kills restore --kills 1000` kills at random instants; `--steps` stops the command
before, after and in the middle of each system call that changes something, in turn, and lets each
fail. Any command line can be put in: `python -m tests.kills --shop FOLDER --kills 100 -- keep ...`.
Runs on systems that can fork.
"""

import argparse
import contextlib
import errno
import io
import os
import pathlib
import random
import shutil
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from jobcheck.cli.main import main as jobcheck
from jobcheck.sources.state.writing import UNFINISHED

EXAMPLES = pathlib.Path(__file__).parent.parent / "examples"
Tree = dict[str, bytes]

KILLED = 99
"""The exit code of a run that was ended at a call."""

STEPS = ("open", "write", "fsync", "fchmod", "replace", "rename", "mkdir", "unlink", "close")
"""System calls that change something, or bring it down to the disk."""

ERRORS = {"fails": errno.EIO, "full": errno.ENOSPC}
RACED = "raced"
WAYS = ("before", "after", "torn", *ERRORS, RACED)
"""Killed before a call, after it, with half of a write done; an error of the disk; a full disk;
another program that writes in the same files while the call takes long."""
_THEIRS = b"\n# theirs\n"


DONE = frozenset((0, 1, 2))


@dataclass(frozen=True)
class Case:
    """A command that writes, and the shop that it writes in.

    `changes` are (file, old text, new text) made to a copy of `shop` first. `again` are the exit
    codes that a repeated run may have: 0, or `DONE` where it refuses what is done already.
    `ahead` are files that are written before the others, and may be new while those are old.
    """

    argv: tuple[str, ...]
    shop: pathlib.Path
    changes: tuple[tuple[str, str, str], ...] = ()
    again: frozenset[int] = frozenset((0,))
    first: tuple[tuple[str, ...], ...] = ()
    ahead: frozenset[str] = frozenset()
    """Command lines that are run before, after the changes."""

    def prepare(self, folder: pathlib.Path) -> None:
        """Make the shop in a folder that is not there yet."""
        shutil.copytree(self.shop, folder)
        for name, old, new in self.changes:
            text = (folder / name).read_text(encoding="utf-8")
            assert old in text, f"{name} no longer holds {old!r}"
            (folder / name).write_text(text.replace(old, new), encoding="utf-8")
        for argv in self.first:
            out = io.StringIO()
            assert jobcheck((*argv, "--shop", str(folder)), out, out) == 0, out.getvalue()


_DAY = ("--as-of", "2026-11-01")
_MORE_GAIN = (("placer.yaml", "gain: 4", "gain: 5"),)
_SELECTIONS = ("cameras.up", "feeders.f07.slot", "outlines.can-6x5.height_mm")
_FORGOTTEN = (
    ("controller/optics.xml", ' us="10000"', ""),
    ("controller/optics.xml", "<amplify>4<", "<amplify>0<"),
)
_GATHER = (*_DAY, "gather", "--write")
_LIST = "jobs/soil-logger/placements.csv"
_LISTINGS = pathlib.Path(__file__).parent / "golden/listings"
_UNTIL = ("--until", "2027-01-01", "--because", "a trial", "--write")
CASES = {
    "restore": Case((*_DAY, "restore", *_SELECTIONS, "--write"), EXAMPLES / "soil-logger-drifted"),
    "keep": Case(
        (*_DAY, "keep", "--label", "another", "--on-purpose", "cameras.up"),
        EXAMPLES / "soil-logger",
        (("placer.yaml", "      gain: 4\n", ""),),
        again=DONE,
    ),
    "accept": Case((*_DAY, "accept", "--all", *_UNTIL), EXAMPLES / "soil-logger-drifted"),
    "retuned": Case(
        (*_DAY, "retuned", "cameras.up", "--write"), EXAMPLES / "soil-logger", _MORE_GAIN
    ),
    "checked": Case(
        (*_DAY, "checked", "soil-logger", "D1", "U1", "--write"), EXAMPLES / "soil-logger"
    ),
    "import": Case(
        (*_DAY, "import", _LIST, "--job", "second", "--units", "mm", "--zero", "A", "--write"),
        EXAMPLES / "soil-logger",
        ((_LIST, "\nC1,cap-10u-0805,", "\nC1,cap-another,"),),
    ),
    "seen": Case(
        ("--as-of", "2026-11-26", "seen", "up", str(_LISTINGS / "set.txt"), "--ranges", "--write"),
        EXAMPLES / "soil-logger",
    ),
    "trial": Case(
        (*_DAY, "trial", "soil-logger", "--kind", "tape"), EXAMPLES / "soil-logger", again=DONE
    ),
    "used": Case(
        (*_DAY, "used", "soil-logger", "--panels", "1", "--run", "first", "--write"),
        EXAMPLES / "soil-logger",
        again=DONE,
        ahead=frozenset(("runs/first.yaml",)),
    ),
    "schema": Case(("schema", "--output", "schemas"), EXAMPLES / "soil-logger"),
    "new": Case((*_DAY, "new", "fresh"), EXAMPLES / "soil-logger"),
    "withdraw": Case(
        (*_DAY, "withdraw", "1", "--because", "a loose lens"), EXAMPLES / "soil-logger", again=DONE
    ),
    "gather": Case((*_DAY, "gather", "--write"), EXAMPLES / "bridged", _FORGOTTEN),
    "deliver": Case(
        (*_DAY, "deliver", "cameras.up", "--write"),
        EXAMPLES / "bridged",
        _FORGOTTEN,
        first=(_GATHER, (*_DAY, "restore", "cameras.up", "--write")),
    ),
    "restore and deliver": Case(
        (*_DAY, "restore", "cameras.up", "--deliver", "--write"),
        EXAMPLES / "bridged",
        _FORGOTTEN,
        first=(_GATHER,),
    ),
}


class Broken(Exception):
    """A file is neither the old nor the new one, or a repeated run did not complete it."""


@dataclass
class Tally:
    """What a run has seen: how often the files were old, between the two, new; with leftovers."""

    trials: int = 0
    seen: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def tree(folder: pathlib.Path) -> Tree:
    """Return all files of a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def started(
    case: Case, folder: pathlib.Path, said: pathlib.Path, calls: "Calls | None" = None
) -> int:
    """Run the command in a child of this process; return its id. What it says goes to a file."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        os.chdir(folder)
        out = io.StringIO()
        with calls or contextlib.nullcontext():
            code = jobcheck(case.argv, out, out)
        said.write_text(out.getvalue())
        if calls:
            said.with_name("calls").write_text(f"{calls.made} {calls.first} {calls.last}")
    finally:
        os._exit(code)


def ended(child: int) -> int:
    """Wait for a child; return its exit code, negative for the signal that killed it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


class Trials:
    """Trials of one case: what its files are before and after, and a place to try in."""

    def __init__(self, case: Case, place: pathlib.Path) -> None:
        """Run the command once unharmed."""
        self.case = case
        self.place = place
        self.said = place / "said"
        self.tally = Tally()
        self.folder = place / case.shop.name
        self._warm_up()
        self._anew()
        self.old = tree(self.folder)
        begin = time.monotonic()
        code = ended(started(case, self.folder, self.said, Calls()))
        calls, first, last = (place / "calls").read_text().split()
        self.calls = int(calls)
        self.seconds = time.monotonic() - begin
        self.writing = float(first) - begin, float(last) - begin
        self.new = tree(self.folder)
        if code or self.old == self.new:
            raise Broken(f"unharmed it ends with {code}: {self._told()}")

    def _warm_up(self) -> None:
        """Run the command in this process once: children need not import what it imports."""
        self._anew()
        with contextlib.chdir(self.folder):
            jobcheck(self.case.argv, io.StringIO(), io.StringIO())

    def _anew(self) -> None:
        """Make the shop again; the case is asked for it once, so that all trials are alike."""
        pristine = self.place / "pristine"
        if not pristine.exists():
            self.case.prepare(pristine)
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.copytree(pristine, self.folder)

    def random_kill(self, after: float) -> None:
        """Kill once, some seconds after the start."""
        self._anew()
        child = started(self.case, self.folder, self.said)
        time.sleep(after)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        ended(child)
        self._judge(f"killed after {after:.4f} s")

    def stop(self, number: int, way: str) -> None:
        """End one system call in a way."""
        self._anew()
        code = ended(started(self.case, self.folder, self.said, Calls(number, way, self.shared)))
        expected = {KILLED} if way in WAYS[:3] else {0, 2}
        if code not in expected:
            self.tally.failures.append(f"call {number} {way}: exit {code}: {self._told()}")
        if way == RACED:
            self._judge_race(number)
        else:
            self._judge(f"call {number} {way}")

    @property
    def shared(self) -> tuple[pathlib.Path, ...]:
        """The files that the command changes, and that another program may have open."""
        changed = (name for name in self.old if self.new.get(name) not in (None, self.old[name]))
        return tuple(self.folder / name for name in changed)

    def _judge_race(self, number: int) -> None:
        """Whatever came of the command, nothing that the other program wrote is gone."""
        self.tally.trials += 1
        lost = [file.name for file in self.shared if not file.read_bytes().endswith(_THEIRS)]
        self.tally.seen["the other's"] += not lost
        if lost:
            self.tally.failures.append(f"call {number} raced: {', '.join(lost)} lost a line")

    def _told(self) -> str:
        return self.said.read_text().partition("\n")[0] if self.said.exists() else ""

    def _judge(self, what: str) -> None:
        self.tally.trials += 1
        try:
            self._see()
            code = ended(started(self.case, self.folder, self.said))
            if code not in self.case.again:
                raise Broken(f"repeated it ends with {code}: {self._told()}")
            if tree(self.folder) != self.new:
                raise Broken(f"repeated it leaves {_differing(tree(self.folder), self.new)}")
        except Broken as error:
            self.tally.failures.append(f"{what}: {error}")

    def _see(self) -> None:
        """Look at every file: old or new and whole, and each record there or not."""
        found = tree(self.folder)
        left = [name for name in found if UNFINISHED in name]
        whole = {name: data for name, data in found.items() if name not in left}
        wrong = [
            name
            for name in {*whole, *self.old}
            if whole.get(name) not in (self.old.get(name), self.new.get(name))
        ]
        if wrong:
            raise Broken(f"neither old nor new: {', '.join(sorted(wrong))}")
        for record in _records(self.new) - _records(self.old):
            inside = f"known-good/{record}/"
            expected = {name for name in self.new if name.startswith(inside)}
            there = {name for name in whole if name.startswith(inside)}
            if there and there != expected:
                raise Broken(f"half a record: {inside} lacks {', '.join(expected - there)}")
        state = "old" if whole == self.old else "new" if whole == self.new else "between"
        self.tally.seen[f"{state}, with leftovers" if left else state] += 1


def _records(found: Tree) -> set[str]:
    return {name.split("/")[1] for name in found if name.startswith("known-good/")}


def _differing(one: Tree, other: Tree) -> str:
    return ", ".join(name for name in sorted({*one, *other}) if one.get(name) != other.get(name))


# system calls


class Calls:
    """Counts the system calls of a run that change something, and ends one of them in a way.

    `first` and `last` are the instants of the first and the last of them.
    """

    def __init__(
        self, number: int = -1, way: str = "", shared: tuple[pathlib.Path, ...] = ()
    ) -> None:
        self.number = number
        self.shared = shared
        self.way = way
        self.made = 0
        self.first = self.last = 0.0
        self._real = {name: getattr(os, name) for name in STEPS}

    def __enter__(self) -> None:
        for name, real in self._real.items():
            setattr(os, name, self._wrapped(name, real))

    def __exit__(self, *error: object) -> None:
        for name, real in self._real.items():
            setattr(os, name, real)

    def _wrapped(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:
            if name == "open" and not given[1] & os.O_CREAT:
                return real(*given, **named)
            self.made += 1
            self.last = time.monotonic()
            self.first = self.first or self.last
            if self.made - 1 != self.number:
                return real(*given, **named)
            return self._end(name, real, given, named)

        return call

    def _end(self, name: str, real: Callable[..., Any], given: Any, named: Any) -> Any:
        if self.way == RACED:
            if name in ("replace", "rename"):  # the window is this one call
                real(*given, **named)
            for file in self.shared:
                with file.open("ab") as held:
                    held.write(_THEIRS)
            return None if name in ("replace", "rename") else real(*given, **named)
        if self.way in ERRORS:
            if name == "close":  # what was opened to be read closes
                return real(*given, **named)
            raise OSError(ERRORS[self.way], os.strerror(ERRORS[self.way]))
        try:
            if self.way == "after":
                real(*given, **named)
            elif self.way == "torn" and name == "write":
                real(given[0], bytes(given[1])[: len(given[1]) // 2])
        finally:
            os._exit(KILLED)


# runs


@contextlib.contextmanager
def trials(case: Case) -> Iterator[Trials]:
    """Yield the trials of a case in a folder of their own."""
    with tempfile.TemporaryDirectory() as place:
        yield Trials(case, pathlib.Path(place))


def kill_at_random(case: Case, kills: int, seed: int) -> Tally:
    """Kill at random instants: half of them over the whole run, half while it writes."""
    draw = random.Random(seed)
    with trials(case) as run:
        for number in range(kills):
            whole = (0.0, 1.1 * run.seconds)
            run.random_kill(draw.uniform(*(run.writing if number % 2 else whole)))
        return run.tally


def stop_at_each_call(case: Case, every: int = 1) -> Tally:
    """Stop at each system call that changes something in turn, in every way.

    With `every` only at each so-manieth, beginning elsewhere for each way.
    """
    with trials(case) as run:
        for first, way in enumerate(WAYS if run.shared else WAYS[:-1]):
            for number in range(first % every, run.calls, every):
                run.stop(number, way)
        return run.tally


def report(name: str, tally: Tally) -> str:
    """Return what a run has seen, in lines."""
    seen = ", ".join(f"{count} {state}" for state, count in tally.seen.most_common())
    lines = [f"{name}: {tally.trials} trials, {len(tally.failures)} failures. Found: {seen}."]
    return "\n".join(lines + tally.failures)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.kills", description=__doc__)
    parser.add_argument("--case", choices=CASES, help="default: all of them")
    parser.add_argument("--kills", type=int, default=0, help="at random instants")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--steps", action="store_true", help="stop at each system call")
    parser.add_argument("--every", type=int, default=1, help="only at each so-manieth call")
    parser.add_argument("--shop", type=pathlib.Path, help="a shop to try ARGV in")
    parser.add_argument("argv", nargs="*", help="another command line, after --")
    given = parser.parse_args()
    cases = {name: case for name, case in CASES.items() if given.case in (None, name)}
    if given.argv:
        case = Case(tuple(given.argv), given.shop or CASES["restore"].shop, again=DONE)
        cases = {given.argv[0]: case}
    failures = 0
    for name, case in cases.items():
        tallies = [kill_at_random(case, given.kills, given.seed)] if given.kills else []
        tallies += [stop_at_each_call(case, given.every)] if given.steps else []
        for tally in tallies:
            print(report(name, tally), flush=True)
            failures += len(tally.failures)
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
