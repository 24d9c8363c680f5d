"""What is written as YAML is read as the same."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.sources.yaml.spelling import block_lines, flow_text, spell_scalar

# what no YAML file can hold, even escaped: halves of pairs
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
NUMBERS = st.integers(-(10**15), 10**15) | st.floats(allow_nan=False, allow_infinity=False)
SCALARS = TEXTS | NUMBERS | st.booleans()
TREES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=12,
)


def read(text: str) -> object:
    return read_yaml(f"a: {text}\n".encode(), "file").plain["a"]


@given(SCALARS, st.sampled_from(["", "'", '"']))
def test_a_scalar(value, quote):
    spelled = spell_scalar(value, quote)
    assert read(spelled) == value
    assert isinstance(read(spelled), bool) == isinstance(value, bool)
    assert read(f"[{spelled}, 1]") == [value, 1]
    assert "\n" not in spelled


@given(TREES)
def test_a_value_on_one_line(value):
    assert read(flow_text(("a",), value)) == value


@given(st.dictionaries(TEXTS, TREES, min_size=1, max_size=3), st.integers(1, 8), st.booleans())
def test_an_entry_in_lines(value, indent, on_one_line):
    lines = block_lines(("a",), value, indent=indent, on_one_line=on_one_line)
    assert read_yaml("\n".join(lines).encode(), "file").plain == {"a": value}


@pytest.mark.parametrize(
    "text", ["yes", "NO", "on", "y", "1_000", "0o17", "017", "1e3", "12:30", "0x1F", "~", "null"]
)
def test_older_parsers_read_text_as_text(text):
    assert yaml.safe_load(spell_scalar(text)) == text


@pytest.mark.parametrize("text", ["2026-10-02", "k-6f1c09a2b7d4", "10k", "jobs/*/job.yaml", "a b"])
def test_plain_text_gets_no_quotes(text):
    assert spell_scalar(text) == text
