"""The root file of a shop."""

from typing import Literal

from pydantic import Field

from jobcheck.schema.fields import Described, note, setting
from jobcheck.schema.limits import Limits
from jobcheck.schema.values import Day

COLLECTIONS = {"parts": ("outlines", "recognitions", "parts"), "feeders": ("feeders",)}
"""Kinds of file that a shop may have several of -> the collections whose entries they share."""

BRINGS = {**COLLECTIONS, "jobs": ("jobs",)}
"""What shop.yaml names files for -> what those files bring."""


class Acceptance(Described):
    """A finding that is accepted until a day."""

    because: str | None = note("Why it is accepted.")
    until: Day | None = note("The day on which it is judged again, at most a year ahead.")


class ShopFile(Described):
    """The root file: the files that describe the shop, and how findings are judged."""

    describes: Literal["shop"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    machine: str = setting(
        "The file that describes the machine.",
        examples=["placer.yaml"],
        changed="the machine is read from another file",
    )
    parts: list[str] = setting(
        "Files of parts; `*` is any name.", [], changed="parts are read from other files"
    )
    feeders: list[str] = setting(
        "Files of feeders; `*` is any name.", [], changed="feeders are read from other files"
    )
    jobs: list[str] = setting(
        "Files of jobs; `*` is any name.",
        [],
        examples=[["jobs/*/job.yaml"]],
        changed="jobs are read from other files",
    )
    bridge: str | None = setting(
        "The file that maps the controller's own files.",
        None,
        examples=["bridge.yaml"],
        changed="the controller's values are read by another map",
    )
    limits: Limits = Field(
        default_factory=Limits,
        description="Thresholds that rules use, where not their default.",
        json_schema_extra={"x-changed": "findings that rest on this limit come or go"},
    )
    disabled: dict[str, str] = note("Rules that do not run, with the reason.", {})
    accepted: dict[str, dict[str, Acceptance]] = note(
        "Accepted findings: rule, then path, then reason and end.", {}
    )
    note: str | None = note("For people.")
