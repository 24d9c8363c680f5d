"""A true shop has no error and at most one warning."""

import pytest

from jobcheck.findings import Level
from tests.variants.shops import Variant, findings_of, variants


@pytest.mark.parametrize("variant", variants(), ids=str)
def test_true_shop_has_no_error_and_at_most_one_warning(variant: Variant) -> None:
    found = findings_of(variant)
    assert [f for f in found if f.level is Level.ERROR] == []
    assert len(found) <= 1, found


def test_catalogue_has_sixty_shops_with_names_of_their_own() -> None:
    names = [variant.name for variant in variants()]
    assert len(names) >= 60
    assert len(set(names)) == len(names)
