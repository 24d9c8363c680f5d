"""Prints what the catalogue measured: `python -m tests.faults`, `--verbose` with every fault."""

import argparse

from tests.faults.catalogue import AREAS, planted
from tests.faults.clean import false_alarms
from tests.faults.plant import Planted

_MARK = {True: " ", False: "!"}


def table() -> list[str]:
    """Return the lines of the table, an area a line."""
    lines = [
        f"{'area':12}{'faults':>8}{'planted':>9}{'found':>7}{'one rule':>10}{'two':>5}{'more':>6}"
    ]
    totals = [0] * 6
    for area in AREAS:
        counted = _counted(planted(area), len(AREAS[area]))
        totals = [total + number for total, number in zip(totals, counted, strict=True)]
        lines.append(_line(area, counted))
    return [*lines, _line("all", totals)]


def _counted(all_planted: list[Planted], faults: int) -> list[int]:
    found = [entry for entry in all_planted if entry.is_found]
    told = [len(entry.names) for entry in found]
    return [
        *(faults, len(all_planted), len(found)),
        *(told.count(1), told.count(2), sum(number > 2 for number in told)),
    ]


def _line(name: str, counted: list[int]) -> str:
    faults, plants, found, one, two, more = counted
    return f"{name:12}{faults:8}{plants:9}{found:7}{one:10}{two:5}{more:6}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--verbose", action="store_true", help="show every fault")
    parser.add_argument("--shops", type=int, default=200, help="generated shops without a fault")
    parser.add_argument("--area", choices=list(AREAS))
    given = parser.parse_args()
    if given.verbose or given.area:
        for area in [given.area] if given.area else AREAS:
            for entry in planted(area):
                rules = ", ".join(entry.names) or "nothing"
                if given.verbose or not entry.is_right:
                    print(
                        f"{_MARK[entry.is_right]} {entry.base.name:12} {entry.fault.rule}: "
                        f"{entry.fault.words}: {rules}"
                    )
        return
    print("\n".join(table()))
    alarms = false_alarms(given.shops)
    print(f"\nFalse alarms: {len(alarms)} in {given.shops + 2} shops without a fault.")
    for alarm in alarms:
        print(f"  {alarm}")


if __name__ == "__main__":
    main()
