"""Prints what lint reports in true shops: `python -m tests.variants`."""

from jobcheck.findings import Level
from jobcheck.shop.paths import show
from tests.variants.shops import findings_of, variants


def main() -> None:
    """Print each shop with an error or a second warning, then the figures."""
    errors = warnings = clean = 0
    for variant in variants():
        found = findings_of(variant)
        heavy = sum(finding.level is Level.ERROR for finding in found)
        errors += heavy
        warnings += len(found) - heavy
        clean += not heavy and len(found) <= 1
        if heavy or len(found) > 1:
            print(f"{variant.name}: {variant.about}")
            for finding in found:
                print(
                    f"  {finding.level}: {show(finding.path)}: {finding.message} [{finding.rule}]"
                )
    print(f"{len(variants())} true shops: {clean} pass, {errors} errors, {warnings} warnings.")


if __name__ == "__main__":
    main()
