"""Every conversion is exact both ways: what is delivered is gathered as the value it was."""

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError

from jobcheck.schema.bridge import Address
from jobcheck.sources.bridge.conversions import Converter, Plain
from jobcheck.sources.bridge.source import Hit, MapWrong, Native
from jobcheck.trade.units import UNITS, factor

FLOATS = st.floats(-1e6, 1e6).map(lambda x: 0.0 if abs(x) < 1e-9 else x) | st.integers(
    -1_000_000, 1_000_000
)
SCALES = st.sampled_from([0.001, 0.01, 0.1, 2.0, 3.0, 7.5, 25.4, -1.0, 1000.0, 1 / 3])


def converter(types: set[type], field_unit: str | None = None, **how: Any) -> Converter:
    return Converter(Address.model_validate({"at": "x", **how}), frozenset(types), field_unit)


def back_and_forth(how: Converter, value: Plain, like: str = "") -> Plain | None:
    return how.gathered(Hit(None, "x", how.delivered(value, like)))


@given(FLOATS, SCALES, FLOATS, st.booleans(), st.sampled_from(["", "1.50", "+3", "12"]))
def test_scale_offset_and_sign(
    value: float, scale: float, offset: float, negate: bool, like: str
) -> None:
    how = converter({float}, scale=scale, offset=offset, negate=negate)
    try:
        assert back_and_forth(how, value, like) == value
    except MapWrong:  # zero, where only an infinite number would give it: refused
        assert abs(value) <= 1e-12 * abs(offset)


@given(FLOATS, st.data())
def test_units(value: float, data: st.DataObject) -> None:
    units = data.draw(st.sampled_from([units for units in UNITS if len(units) > 1]))
    unit, target = (data.draw(st.sampled_from(sorted(units))) for _ in range(2))
    how = converter({float}, target, unit=unit)
    assert how.fault() == ""
    assert back_and_forth(how, value) == value


@given(st.integers(-10_000, 10_000))
def test_whole_numbers_stay_whole(value: int) -> None:
    how = converter({int}, scale=0.01)
    text = how.delivered(value, "10000")
    assert text == str(value * 100)
    gathered = how.value(text)
    assert gathered == value
    assert type(gathered) is int


@given(st.dictionaries(st.text("abcdefgh", min_size=1), st.integers(0, 9), min_size=1))
def test_words(words: dict[str, int]) -> None:
    assume(len(set(words.values())) == len(words))
    how = converter({int}, words=words)
    for word, value in words.items():
        assert how.delivered(value) == word
        assert back_and_forth(how, value) == value


@pytest.mark.parametrize("types", [{bool}, {int}])
def test_on_and_off(types: set[type]) -> None:
    how = converter(types, on="yes", off="no")
    for value in (True, False):
        gathered = back_and_forth(how, value)
        assert gathered == value
        assert type(gathered) in types


@given(st.lists(FLOATS, min_size=2, max_size=5), st.sampled_from([" ", ",", ";", " x "]), st.data())
def test_split_takes_one_part(values: list[float], by: str, data: st.DataObject) -> None:
    how = [converter({float}, split={"by": by, "take": n + 1}) for n in range(len(values))]
    content = by.join(one.delivered(value) for one, value in zip(how, values, strict=True))
    for one, value in zip(how, values, strict=True):
        assert one.gathered(Hit(None, "x", content)) == value
    place = data.draw(st.integers(0, len(values) - 1))
    first, last = how[place].part(content)
    changed = content[:first] + "7.25" + content[last:]
    now = [one.gathered(Hit(None, "x", changed)) for one in how]
    assert now == [*values[:place], 7.25, *values[place + 1 :]]


def test_an_inch_is_exact() -> None:
    how = converter({float}, "mm", unit="inch")
    assert how.value("0.1") == 2.54
    assert how.delivered(2.54) == "0.1"


def test_a_number_keeps_the_decimals_and_the_sign_that_stand_there() -> None:
    assert converter({float}).delivered(12.5, "3.100") == "12.500"
    assert converter({int}).delivered(7, "+12") == "+7"
    assert converter({int}).delivered(-7, "+12") == "-7"


@pytest.mark.parametrize(
    ("types", "unit", "how", "says"),
    [
        ({int}, None, {"unit": "um"}, "no unit"),
        ({float}, "mm", {"unit": "s"}, "cannot be converted to it"),
        ({str}, None, {"scale": 2}, "is not a number, so it cannot be scaled"),
        ({str}, None, {"on": "a", "off": "b"}, "neither true or false"),
    ],
)
def test_conversions_that_do_not_fit_the_field(
    types: set[type], unit: str | None, how: dict[str, Any], says: str
) -> None:
    assert says in converter(types, unit, **how).fault()


@pytest.mark.parametrize(
    "how",
    [
        {"scale": 0},
        {"on": "a", "off": "a"},
        {"on": "a"},
        {"words": {"a": 1, "b": 1}},
        {"words": {}},
        {"words": {"a": 1}, "scale": 2},
    ],
)
def test_conversions_that_cannot_be_undone(how: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        converter({float}, **how)


@pytest.mark.parametrize(
    ("types", "text"),
    [
        ({float}, "ten"),
        ({float}, "1,5"),
        ({float}, "nan"),
        ({float}, "inf"),
        ({float}, "0x10"),
        ({float}, "1e999"),
        ({float}, "9" * 50),
        ({int}, "1.5"),
        ({bool}, "maybe"),
    ],
)
def test_what_is_of_another_type(types: set[type], text: str) -> None:
    with pytest.raises(MapWrong):
        converter(types).value(text)


def test_nothing_is_no_value_and_several_are_none() -> None:
    how = converter({float})
    assert how.gathered(Hit(None, "x", " ", Native.NOTHING)) is None
    with pytest.raises(MapWrong):
        how.gathered(Hit(None, "x", "", Native.BLOCK))


def test_units_of_another_quantity_have_no_factor() -> None:
    assert factor("um", "kPa") is None
    assert factor("um", "mm") == factor("mm", "m")
