"""The generator of shops holds what its users rely on."""

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from jobcheck.commands.lint import lint_state
from jobcheck.reports.calls import Call
from jobcheck.reports.text.findings import lines_text
from jobcheck.rules.registry import RULES
from jobcheck.shop.classes import KINDS
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.generate import AS_OF, Size, make_files, make_shop, write
from tests.support.write_yaml import Style

SIZES = [Size(), Size(placements=3, parts=3), Size(parts=60, jobs=3), Size(inline=True)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("seed", range(5))
def test_every_document_fits_its_model(seed, size):
    for document in make_shop(seed, size).values():
        if isinstance(document, dict):
            KINDS[document["describes"]].model_validate(document)


def test_the_same_seed_gives_the_same_bytes():
    assert make_files(7, style=Style.drawn(7)) == make_files(7, style=Style.drawn(7))
    assert make_files(7) != make_files(8)


@pytest.mark.parametrize("seed", range(10))
def test_every_style_says_the_same(seed):
    documents = make_shop(seed)
    files = write(documents, Style.drawn(seed))
    for name, document in documents.items():
        if isinstance(document, dict):
            read = YAML(typ="safe", pure=True).load(files[name].decode("utf-8-sig"))
            assert _dates_as_text(read) == document


def _dates_as_text(value):
    if isinstance(value, dict):
        return {key: _dates_as_text(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_dates_as_text(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def test_inline_placements_take_seven_lines_each():
    job = make_files(1, Size(placements=500, inline=True))["jobs/board-1/job.yaml"]
    few = make_files(1, Size(placements=400, inline=True))["jobs/board-1/job.yaml"]
    assert job.count(b"\n") - few.count(b"\n") == 700


@pytest.mark.parametrize("seed", range(20))
def test_a_generated_shop_has_no_finding(seed):
    _lint_clean(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20, 220))
def test_many_generated_shops_have_no_finding(seed):
    _lint_clean(seed)


def _lint_clean(seed):
    size = SIZES[seed % len(SIZES)]
    state = State("now", HeldFiles(make_files(seed, size, Style.drawn(seed))), "generated")
    linted = lint_state(Path("generated"), state, RULES, AS_OF)
    assert lines_text([linted], Call()) == []
