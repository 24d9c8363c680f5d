"""Prints what lint makes of a fault in every field: `python -m tests.fields`."""

import argparse
from collections import Counter

from jobcheck.findings import Level
from tests.fields.plant import Case, Class, Result, cases, plant

_WORDS = {
    Class.ERROR: "must be an error",
    Class.FOUND: "must be found",
    Class.DIFF: "only diff can tell",
    Class.HARMLESS: "harmless",
}


def is_met(case: Case, result: Result) -> bool:
    """Tell whether lint did what the class of a fault demands."""
    if case.expected is Class.ERROR:
        return result.level is Level.ERROR
    if case.expected is Class.HARMLESS:
        return result.level is not Level.ERROR
    return result.is_found


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fields", description=__doc__)
    parser.add_argument("--missed", action="store_true", help="show each fault that is missed")
    given = parser.parse_args()
    total, met = Counter[Class](), Counter[Class]()
    for case in cases():
        result = plant(case)
        total[case.expected] += 1
        if is_met(case, result):
            met[case.expected] += 1
        elif given.missed and case.expected is not Class.DIFF:
            said = ", ".join((*result.rules, *(f"({name})" for name in result.elsewhere)))
            print(f"{case.expected.value}  {case}: {said or 'nothing'}")
    for expected, words in _WORDS.items():
        wanted = "without an error" if expected is Class.HARMLESS else "found"
        print(f"{words:20}{total[expected]:5} faults{met[expected]:6} {wanted}")
    could = (Class.ERROR, Class.FOUND)
    share = sum(met[name] for name in could) / sum(total[name] for name in could)
    print(f"Of what lint could tell, {share:.1%} is found at its cause.")


if __name__ == "__main__":
    main()
