"""What a record says of itself: record.yaml, and withdrawn.yaml where it is not good after all."""

from __future__ import annotations

import re
import unicodedata
from hashlib import sha256
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, Field, StringConstraints, ValidationError

from jobcheck.schema.fields import Described
from jobcheck.schema.values import Day
from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.sources.yaml.spelling import block_lines
from jobcheck.text import NotUnderstood

RECORD_FILE = "record.yaml"
WITHDRAWN_FILE = "withdrawn.yaml"
LONGEST_SLUG = 60
_ALWAYS = ("evidence", "on_purpose")
"""Lists that are written when they are empty, too."""
_TEXTS = frozenset(("label", "note", "author", "commit", "tool", "because"))

Sum = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Model = TypeVar("Model", bound=BaseModel)


class About(Described):
    """The contents of record.yaml."""

    describes: Literal["record"] = "record"
    edition: Literal[1] = 1
    number: int = Field(ge=1, description="Its number: that of its folder.")
    date: Day = Field(description="The day on which it was recorded.")
    label: str = Field(description="What people call it.")
    note: str | None = Field(None, description="For people.")
    author: str | None = Field(None, description="Who kept it, as git knows them.")
    commit: str | None = Field(None, description="The commit that was checked out then.")
    tool: str = Field(description="What recorded it.")
    evidence: list[str] = Field([], description="The trials that speak for it.")
    on_purpose: list[str] = Field([], description="What was lost on purpose: paths.")
    accepted: list[str] = Field([], description="Errors that were accepted: rule and path.")
    stamped: list[str] = Field([], description="Stamps since the record before: paths.")
    not_checked: list[str] = Field(
        [], description="Rules that were disabled, and limits looser than their default."
    )
    sums: dict[str, Sum] = Field(description="SHA-256 of each file.")
    controller: dict[str, Sum] = Field(
        {}, description="SHA-256 of each file of the controller that the map names."
    )


class Withdrawal(Described):
    """The contents of withdrawn.yaml."""

    describes: Literal["withdrawal"] = "withdrawal"
    edition: Literal[1] = 1
    date: Day = Field(description="The day on which it was withdrawn.")
    because: str = Field(description="Why it is not good after all.")


def sum_of(data: bytes) -> str:
    """Return the SHA-256 of bytes as 64 hex digits (FIPS 180-4)."""
    return sha256(data).hexdigest()


def slug_of(label: str) -> str:
    """Return a label as the name of a folder: `after lens swap` -> `after-lens-swap`.

    Raises:
        ValueError: no letter is left, so that it could be taken for a number.
    """
    letters = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:LONGEST_SLUG].rstrip("-")
    if not re.search("[a-z]", slug):
        raise ValueError(f"{label!r} is not a label: it needs a letter from a to z")
    return slug


def written(model: BaseModel) -> bytes:
    """Return the YAML file of a record's own."""
    plain = model.model_dump(mode="json", exclude_none=True)
    plain = {key: value for key, value in plain.items() if value not in ([], {}) or key in _ALWAYS}
    lines = [line for key, value in plain.items() for line in block_lines((key,), value)]
    return ("\n".join(lines) + "\n").encode()


def understood(data: bytes, file: str, model: type[Model]) -> Model:
    """Read a record's own file.

    Raises:
        ValueError: it cannot be understood.
    """
    try:
        plain: dict[str, Any] = read_yaml(data, file, _TEXTS).plain
        return model.model_validate(plain)
    except NotUnderstood as error:
        raise ValueError(f"{error.fault.place}: {error.fault.message}") from None
    except ValidationError as error:
        problem = error.errors(include_url=False, include_context=False)[0]
        at = ".".join(map(str, problem["loc"]))
        raise ValueError(f"{file}: {at} {problem['msg'].removeprefix('Value error, ')}") from None
