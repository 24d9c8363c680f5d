"""The JSON Schemas of all kinds of document, generated from the models."""

from __future__ import annotations

import json
from pathlib import Path as FilePath
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from jobcheck.commands.keys import keys_page
from jobcheck.findings import CallRefused
from jobcheck.shop.classes import KINDS
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.sources.state.writing import Rewrite, WriteRefused, reason, write_files

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _Generator(GenerateJsonSchema):
    """The schemas for YAML tools: no null, and text that may be written without quotes.

    An empty value is a fault, so an optional field is left out, never null. Text takes any plain
    scalar as it is written, which a YAML tool may take for a number.
    """

    def nullable_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def str_schema(self, schema: Any) -> JsonSchemaValue:
        made = super().str_schema(schema)
        return made if "pattern" in made else {**made, "type": ["string", "number", "boolean"]}

    def dict_schema(self, schema: Any) -> JsonSchemaValue:
        made = super().dict_schema(schema)
        return {**made, "additionalProperties": False} if "patternProperties" in made else made

    def default_schema(self, schema: Any) -> JsonSchemaValue:
        made = super().default_schema(schema)
        if made.get("default", ...) is None:
            del made["default"]
        return made


def schemas() -> dict[str, str]:
    """Return file name -> text of the schema of each kind."""
    made = {}
    for kind, model in KINDS.items():
        schema = model.model_json_schema(schema_generator=_Generator)
        _title(schema)
        head = {
            "$schema": DIALECT,
            "$id": f"urn:jobcheck:edition-1:{kind}",
            "title": f"jobcheck {kind}",
        }
        made[f"{kind}.schema.json"] = json.dumps({**schema, **head}, indent=2) + "\n"
    return made


def _title(schema: Any) -> None:
    """Give every field the title that people read: its name without underscores."""
    for model in (schema, *schema.get("$defs", {}).values()):
        for name, described in model.get("properties", {}).items():
            described["title"] = name.replace("_", " ")


def write_schemas(folder: FilePath) -> list[FilePath]:
    """Write the schemas and the page of keys into a folder and return the files.

    Raises:
        CallRefused: the folder cannot be written.
    """
    made = {**schemas(), "README.md": keys_page()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        held = {name: _held(folder / name) for name in made}
        write_files(folder, {name: Rewrite(held[name], made[name].encode()) for name in made})
    except OSError as error:
        raise CallRefused(f"{folder} cannot be written: {reason(error)}.") from None
    except Unreadable as error:
        raise CallRefused(f"A schema in {folder} {error}. Remove it first.") from None
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
    return [folder / name for name in made]


def _held(file: FilePath) -> bytes | None:
    return bytes_of(file) if file.exists() else None
