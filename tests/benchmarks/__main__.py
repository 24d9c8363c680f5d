"""Prints the tables of `python -m tests.benchmarks`."""

import argparse
import pathlib
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from math import log
from statistics import linear_regression

from tests.benchmarks import contenders
from tests.benchmarks.measure import Measured, in_turn, python, ratio

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
JOB = pathlib.Path("jobs/board-1/job.yaml")
GROWTH = (1_000, 3_200, 10_000, 32_000, 100_000)


def generate(folder: pathlib.Path, *options: str) -> pathlib.Path:
    """Generate a shop in a process of its own and return its folder."""
    subprocess.run(python("-m", "tests.support.generate", str(folder), *options), check=True)
    return folder


def our_schemas(folder: pathlib.Path) -> pathlib.Path:
    """Write our schemas into a folder of their own."""
    subprocess.run(
        python("-m", "jobcheck", "schema", "--output", str(folder)),
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return folder


def lines_below(folder: pathlib.Path) -> int:
    return sum(file.read_bytes().count(b"\n") for file in folder.rglob("*") if file.is_file())


def print_table(title: str, measured: Sequence[Measured], aims: Sequence[str] = ()) -> None:
    """Print one line a contender; the first is ours, `aims` say what was hoped of the others."""
    ours = measured[0]
    print(f"\n{title}\n\n  {'':32}{'min s':>8}{'median s':>10}{'peak MB':>9}{'ratio':>8}")
    for taken, aim in zip(measured, ["", *aims, *[""] * len(measured)], strict=False):
        relation = "" if taken is ours else f"{ratio(ours, taken):8.2f}"
        numbers = f"{taken.least:8.3f}{taken.median:10.3f}{taken.peak:9.0f}{relation:>8}"
        print(f"  {taken.name:32}{numbers}  {aim}".rstrip(), flush=True)


def small(folder: pathlib.Path, rounds: int) -> None:
    """About 300 lines: what start-up costs."""
    shop = generate(folder / "shop", "--placements=30", "--parts=14", "--inline", "--flow")
    theirs = contenders.check_jsonschema(sorted(shop.rglob("*.yaml")), our_schemas(folder / "s"))
    measured = in_turn([contenders.lint(shop), theirs], rounds)
    title = f"{lines_below(shop)} lines in 4 files and shop.yaml"
    print_table(title, measured, ["at most 0.8"])


def large(folder: pathlib.Path, rounds: int) -> None:
    """35,000 lines: 5,000 placements in the job's document."""
    shop = generate(folder / "shop", "--placements=5000", "--inline")
    job = shop / JOB
    theirs = [
        contenders.compose(job),
        contenders.yamllint(job),
        contenders.check_jsonschema([job], our_schemas(folder / "s")),
    ]
    measured = in_turn([contenders.lint(shop), *theirs], rounds)
    title = f"5,000 placements in a job of {lines_below(job.parent):,} lines; memory at most 80 MB"
    print_table(title, measured, ["at most 1.6, aim 1.3", "at most 0.2"])


def drifted(_folder: pathlib.Path, rounds: int) -> None:
    """The example after bad days against the clean one: what it costs to report."""
    bad, good = EXAMPLES / "soil-logger-drifted", EXAMPLES / "soil-logger"
    theirs = contenders.lint(good, "the clean one")
    measured = in_turn([contenders.lint(bad, exits=(1,)), theirs], rounds)
    print_table("The drifted example against the clean one", measured, ["at most 1.3"])


def cameras(_folder: pathlib.Path, rounds: int) -> None:
    """`seen` of two emulated cameras, beside a lint of the same shop; at most 0.5 s."""
    shop = EXAMPLES / "soil-logger"
    measured = in_turn([contenders.seen(shop), contenders.lint(shop)], rounds)
    print_table("Two emulated cameras; aim: at most 0.5 s", measured)


def listed(folder: pathlib.Path, rounds: int) -> None:
    """10,000 placements in a CSV list with its bill."""
    shop = generate(folder, "--placements=10000")
    print_table("10,000 placements in CSV, with a bill", in_turn([contenders.lint(shop)], rounds))


def reading(folder: pathlib.Path, rounds: int) -> None:
    """A list of 10,000 rows against csv.reader alone with floats converted."""
    shop = generate(folder, "--placements=10000")
    print("\n10,000 rows of a placement list, seconds of the processor\n", flush=True)
    arguments = [str(shop / JOB.with_name("placements.csv")), str(3 * rounds)]
    subprocess.run(python("-m", "tests.benchmarks.reading", *arguments), check=True)


def growth(folder: pathlib.Path, rounds: int) -> None:
    """From 1,000 to 100,000 placements; what a shop of one placement takes is subtracted."""
    for kind, options in {"in CSV": [], "in the job's document": ["--inline"]}.items():
        counts = (1, *GROWTH)
        shops = [
            generate(folder / kind / str(count), f"--placements={count}", *options)
            for count in counts
        ]
        measured = in_turn([contenders.lint(shop) for shop in shops], rounds)
        _print_growth(kind, measured)


def _print_growth(kind: str, measured: Sequence[Measured]) -> None:
    """Print seconds of the processor, which other programs on the machine disturb least."""
    print(f"\nGrowth, placements {kind}\n\n  {'placements':>12}{'processor s':>13}{'peak MB':>9}")
    start = min(measured[0].processor)
    print(f"  {1:>12,}{start:13.3f}{measured[0].peak:9.0f}  the start, subtracted for the exponent")
    points = []
    for count, taken in zip(GROWTH, measured[1:], strict=True):
        least = min(taken.processor)
        print(f"  {count:>12,}{least:13.3f}{taken.peak:9.0f}")
        if least > 1.2 * start:
            points.append((log(count), log(least - start)))
    counts, seconds = zip(*points, strict=True)
    print(f"  exponent {linear_regression(counts, seconds).slope:.3f}  at most 1.05")


def difference(folder: pathlib.Path, rounds: int) -> None:
    """Two shops of 35,000 lines that differ in 20 values."""
    options = ["--placements=5000", "--inline"]
    before = generate(folder / "before", *options)
    after = generate(folder / "after", *options, "--edits=20")
    theirs = [
        contenders.lint(before),
        contenders.lint(after),
        contenders.deepdiff(before / JOB, after / JOB),
    ]
    measured = in_turn([contenders.diff(before, after), *theirs], rounds)
    print_table("Two jobs of 35,000 lines, 20 values apart", measured, ["", "", "at most 0.33"])
    both = sum(taken.median for taken in measured[1:3])
    print(f"  diff takes {measured[0].median / both:.2f} of linting both  at most 1.0")


def controllers(folder: pathlib.Path, rounds: int) -> None:
    """A controller's file of 20 MB, gathered."""
    for kind, theirs in contenders.LOADERS.items():
        shop = folder / kind
        shop.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run(python("-m", "tests.benchmarks.controllers", str(shop), kind), check=True)
        file = shop / f"all.{kind}"
        measured = in_turn([contenders.gather(shop), contenders.load(kind, file)], rounds)
        size = file.stat().st_size / 1e6
        title = f"{size:.0f} MB of {kind.upper()}, 601 values gathered; {theirs} loads it"
        print_table(title, measured, ["at most 4"])
        print(f"  jobcheck's memory is {measured[0].peak / size:.1f} times the file  at most 25")


CASES: dict[str, Callable[[pathlib.Path, int], None]] = {
    "small": small,
    "large": large,
    "drifted": drifted,
    "cameras": cameras,
    "listed": listed,
    "reading": reading,
    "growth": growth,
    "difference": difference,
    "controllers": controllers,
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("cases", nargs="*", metavar="CASE", help=", ".join(CASES))
    parser.add_argument("--rounds", type=int, default=7)
    given = parser.parse_args()
    if unknown := set(given.cases) - set(CASES):
        parser.error(f"no case {', '.join(sorted(unknown))}: there are {', '.join(CASES)}")
    with tempfile.TemporaryDirectory() as folder:
        for name in given.cases or CASES:
            CASES[name](pathlib.Path(folder) / name, given.rounds)


if __name__ == "__main__":
    main()
