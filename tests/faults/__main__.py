"""Prints what the catalogue measured: `python -m tests.faults`.

Faults are planted into two shops each; an area's false alarms are what its rules find in shops
without a fault: the two clean ones and generated ones.
"""

import argparse
from collections import Counter

from tests.faults.catalogue import AREAS, area_of, planted
from tests.faults.clean import false_alarms
from tests.faults.plant import Planted

_HEAD = ("faults", "planted", "found", "by one rule", "by two", "by more", "false alarms")
_WIDTHS = tuple(len(title) + 2 for title in _HEAD)


def table(alarms: Counter[str]) -> list[str]:
    """Return the lines of the table, an area a line; `alarms` are false alarms by rule."""
    by_area: Counter[str] = Counter()
    for rule, number in alarms.items():
        by_area[area_of(rule)] += number
    counted = {area: [*_counted(planted(area), len(AREAS[area])), by_area[area]] for area in AREAS}
    total = [sum(numbers) for numbers in zip(*counted.values(), strict=True)]
    rows = [*counted.items(), ("all", total)]
    return [_line("area", _HEAD), *(_line(name, numbers) for name, numbers in rows)]


def _counted(all_planted: list[Planted], faults: int) -> list[int]:
    told = [len(entry.names) for entry in all_planted if entry.is_found]
    more = sum(number > 2 for number in told)
    return [faults, len(all_planted), len(told), told.count(1), told.count(2), more]


def _line(name: str, cells: list[int] | tuple[str, ...]) -> str:
    return f"{name:10}" + "".join(f"{c:>{w}}" for c, w in zip(cells, _WIDTHS, strict=True))


def _show(area: str, verbose: bool) -> None:
    for entry in planted(area):
        if verbose or not entry.is_right:
            mark = " " if entry.is_right else "!"
            names = ", ".join(entry.names) or "nothing"
            print(f"{mark} {entry.base.name:12} {entry.fault.rule}: {entry.fault.words}: {names}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--verbose", action="store_true", help="show every fault")
    parser.add_argument("--shops", type=int, default=200, help="generated shops without a fault")
    parser.add_argument("--area", choices=list(AREAS), help="only this area, fault by fault")
    given = parser.parse_args()
    if given.verbose or given.area:
        for area in [given.area] if given.area else AREAS:
            _show(area, given.verbose)
        return
    alarms = false_alarms(given.shops)
    print("\n".join(table(Counter(alarm.rule for alarm in alarms))))
    print(f"\nShops without a fault: {given.shops + 2}.")
    for alarm in alarms:
        print(f"  {alarm.shop}: {alarm.rule}")


if __name__ == "__main__":
    main()
