"""The schemas in the repository are those that the models give, and they take the example shops."""

import json
from pathlib import Path as FilePath
from typing import Any

import jsonschema
import pytest

from jobcheck.commands.keys import keys_called, keys_page
from jobcheck.commands.schema import schemas
from jobcheck.shop.classes import KINDS
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from tests.support.edited import STARTER

ROOT = FilePath(__file__).parent.parent


def test_page_of_keys_is_up_to_date_and_has_every_key() -> None:
    page = (ROOT / "schemas/README.md").read_text(encoding="utf-8")
    assert page == keys_page()
    row = (
        "| `outlines.NAME.pin1_means` | Which terminal pin 1 is. | cathode, anode, plus, minus, "
        "pin 1 | setting |  | cathode | "
    )
    (found,) = [line for line in page.splitlines() if line.startswith(row)]
    assert found.removeprefix(row).split(", ")[0] == "pin1-missing"
    for kind in KINDS:
        for model in (_schema(kind), *_schema(kind)["$defs"].values()):
            for name in model.get("properties", {}):
                assert f"`{name}`" in page or f".{name}`" in page, name


@pytest.mark.parametrize(
    ("asked", "paths"),
    [
        ("cameras.up.aim", ["cameras.NAME.aim"]),
        ("jobs.soil-logger.panel.pitch_mm", ["panel.pitch_mm"]),
        ("pin1_means", ["outlines.NAME.pin1_means"]),
        ("cameras.up.controls.gain", ["cameras.NAME.controls"]),
        ("pin1_mean", []),
    ],
)
def test_a_key_is_found_by_its_path_or_its_name(asked: str, paths: list[str]) -> None:
    assert [key.path for key in keys_called(asked)] == paths


@pytest.mark.parametrize("name", schemas())
def test_schema_file_is_up_to_date(name: str) -> None:
    assert (ROOT / "schemas" / name).read_text(encoding="utf-8") == schemas()[name]


def _schema(kind: str) -> Any:
    return json.loads(schemas()[f"{kind}.schema.json"])


@pytest.mark.parametrize("kind", ["shop", "machine", "parts", "feeders", "job", "bridge"])
def test_schema_is_a_schema_and_describes_every_field(kind: str) -> None:
    schema = _schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    for model in (schema, *schema["$defs"].values()):
        for name, described in model.get("properties", {}).items():
            named = schema["$defs"].get(described.get("$ref", "").rpartition("/")[2], {})
            assert described.get("description") or named.get("description"), name
            assert "null" not in json.dumps(described), name


@pytest.mark.parametrize("folder", [STARTER, *sorted((ROOT / "examples").glob("*/"))])
def test_schema_takes_the_example_shops(folder: FilePath) -> None:
    reading = read_shop(folder_state(folder))
    assert reading.files
    for held in reading.places.held.values():
        if held.table is not None:
            jsonschema.validate(held.plain, _schema(held.kind))


@pytest.mark.parametrize(
    ("kind", "document"),
    [
        ("machine", {"describes": "machine", "edition": 1}),
        ("feeders", {"describes": "feeders", "edition": 1, "feeders": {"f1": {"carier": "tape"}}}),
        ("parts", {"describes": "parts", "edition": 1, "parts": {"a b": {"outline": "x"}}}),
        ("job", {"describes": "job", "edition": 2}),
    ],
)
def test_schema_refuses_what_is_wrong(kind: str, document: dict[str, Any]) -> None:
    assert list(jsonschema.Draft202012Validator(_schema(kind)).iter_errors(document))
