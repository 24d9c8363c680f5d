"""Values as they are written, against the letter codes of IEC 60062."""

import pytest

from jobcheck.trade.component_values import ComponentValue, read_value


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("10k", 10e3, "ohm"),
        ("4k7", 4700, "ohm"),
        ("4.7k", 4700, "ohm"),
        ("4,7 kOhm", 4700, "ohm"),
        ("0R1", 0.1, "ohm"),
        ("R", None, ""),
        ("10R", 10, "ohm"),
        ("1M", 1e6, "ohm"),
        ("1m", 1e-3, ""),
        ("100", 100, ""),
        ("100nF", 100e-9, "F"),
        ("2u2", 2.2e-6, ""),
        ("4n7F", 4.7e-9, "F"),
        ("10 µH", 10e-6, "H"),
        ("3L3", 3.3e-6, "H"),
        ("4k7k", None, ""),
        ("BAT54", None, ""),
        ("", None, ""),
    ],
)
def test_values(text, amount, unit):
    value = read_value(text)
    if amount is None:
        assert value is None
    else:
        assert value is not None
        assert value.amount == pytest.approx(amount)
        assert value.unit == unit


def test_a_unit_that_is_not_said_agrees_with_any():
    assert ComponentValue(1e-6).agrees(ComponentValue(1e-6, "F"))
    assert not ComponentValue(1e-6, "H").agrees(ComponentValue(1e-6, "F"))
    assert not ComponentValue(1e-6).agrees(ComponentValue(1.1e-6))
