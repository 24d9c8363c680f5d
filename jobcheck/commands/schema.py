"""The JSON Schemas of all kinds of document, generated from the models."""

from __future__ import annotations

import json
from pathlib import Path as FilePath
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from jobcheck.commands.calls import CallRefused
from jobcheck.description.classes import KINDS

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _Generator(GenerateJsonSchema):
    """An empty value is a fault, so no schema offers null: an optional field is left out."""

    def nullable_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

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
        head = {
            "$schema": DIALECT,
            "$id": f"urn:jobcheck:edition-1:{kind}",
            "title": f"jobcheck {kind}",
        }
        made[f"{kind}.schema.json"] = json.dumps({**schema, **head}, indent=2) + "\n"
    return made


def write_schemas(folder: FilePath) -> list[FilePath]:
    """Write the schemas into a folder and return the files.

    Raises:
        CallRefused: the folder cannot be written.
    """
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in schemas().items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
            written.append(folder / name)
    except OSError as error:
        raise CallRefused(f"{folder} cannot be written: {error.strerror}.") from None
    return written
