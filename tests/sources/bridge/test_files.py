"""The laws of the bridge over generated files of each kind."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobcheck.shop.paths import Path
from jobcheck.sources.bridge.delivering import deliver_to
from jobcheck.sources.bridge.gathering import differences, edits_of
from jobcheck.sources.edits.edits import with_value
from tests.sources.bridge.documents import DECIMAL, KINDS, WHOLE, WORDS, Document, documents

pytestmark = pytest.mark.parametrize("kind", KINDS)


def gathered(document: Document, data: bytes | None = None) -> dict[str, Any]:
    mapped = document.mapped(data)
    assert not mapped.faults, mapped.faults
    plain: dict[str, Any] = {}
    for edit in edits_of(differences(mapped, plain), plain):
        plain = with_value(plain, edit.path, edit.value)
    return plain


def at(plain: Any, path: Path) -> Any:
    for key in path:
        plain = plain[key]
    return plain


@given(st.data())
@settings(max_examples=60)
def test_gathers_what_is_written(kind: str, data: st.DataObject) -> None:
    document = data.draw(documents(kind))
    plain = gathered(document)
    for path, value in document.says.items():
        assert at(plain, path) == value


@given(st.data())
@settings(max_examples=60)
def test_places_are_those_of_the_values(kind: str, data: st.DataObject) -> None:
    document = data.draw(documents(kind))
    mapped = document.mapped()
    source = mapped.sources[document.entry["file"]]
    places = mapped.places(mapped.targets)
    for target in mapped.targets:
        place = places[target.path]
        raw = document.data[place.start : place.end].decode(source.text.encoding)
        line = source.text.text.replace("\r\n", "\n").split("\n")[place.line - 1]
        assert line[place.column - 1 :].startswith(raw.split("\r\n")[0])
        if isinstance(target.value, (int, float)) and "&" not in raw:
            assert float(raw.strip()) == target.value


@given(st.data())
@settings(max_examples=60)
def test_gathering_then_delivering_is_byte_identical(kind: str, data: st.DataObject) -> None:
    """Also where every value is written anew, as long as numbers are spelled in the usual way."""
    document = data.draw(documents(kind))
    mapped = document.mapped()
    assert differences(mapped, gathered(document)) == ()
    wanted = [
        (target, target.value)
        for target in mapped.targets
        if target.value is not None and isinstance(target.value, (int, float))
    ]
    delivered = deliver_to(mapped, document.bridge, wanted)
    for name, new in delivered.files.items():
        assert name == document.entry["file"]
        changed = [one for one in delivered.deliveries if one.before != one.after]
        assert all("&" in one.before or "e" in one.before for one in changed)
        assert changed or new == document.data


@given(st.data())
@settings(max_examples=60)
def test_delivering_one_value_changes_its_bytes_only(kind: str, data: st.DataObject) -> None:
    document = data.draw(documents(kind))
    mapped = document.mapped()
    target = data.draw(st.sampled_from(mapped.targets))
    new: Any = data.draw(
        WORDS
        if isinstance(target.value, str)
        else WHOLE
        if isinstance(target.value, int)
        else DECIMAL
    )
    delivered = deliver_to(mapped, document.bridge, [(target, new)])
    (one,) = delivered.deliveries
    after = delivered.files[document.entry["file"]]
    encoding = mapped.sources[document.entry["file"]].text.encoding
    assert document.data[one.place.start : one.place.end] == one.before.encode(encoding)
    assert after[: one.place.start] == document.data[: one.place.start]
    rest = document.data[one.place.end :]
    assert after[len(after) - len(rest) :] == rest
    assert after[one.place.start : len(after) - len(rest)] == one.after.encode(encoding)
    assert at(gathered(document, after), target.path) == new
    back = document.mapped(after)
    again = deliver_to(back, document.bridge, [])
    assert again.files == {}


@given(st.data())
@settings(max_examples=40)
def test_every_address_that_find_offers_leads_back(kind: str, data: st.DataObject) -> None:
    document = data.draw(documents(kind))
    source = document.mapped().sources[document.entry["file"]]
    for address, hit in source.everything():
        assert [found.key for found in source.find(address)] == [hit.key]
