"""The catalogue by fields is whole, and what it measures does not get worse."""

import pytest

from tests.fields.plant import Case, Class, cases, plant


def test_every_column_is_classified():
    assert len(cases()) > 600
    assert len(set(cases())) == len(cases())


@pytest.mark.parametrize("case", [c for c in cases() if c.expected is Class.HARMLESS], ids=str)
def test_a_harmless_change_is_no_error(case: Case):
    assert plant(case).level != "error"
