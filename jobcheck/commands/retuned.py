"""Stamping recognitions with the fingerprint in force, on the user's word."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.losses import camera_losses
from jobcheck.changes.selections import selections
from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.findings import CallRefused
from jobcheck.known_good.known import KnownGood
from jobcheck.shop.paths import Path, show
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state


class Retuned(NamedTuple):
    """The recognitions that were named, and what is stamped of them.

    `lost` are settings that the cameras of those have lost since the last record: a stamp would
    take what is left of them for the tuning.
    """

    names: tuple[str, ...]
    stamped: tuple[str, ...]
    proposal: Proposal
    lost: tuple[Path, ...]
    record: str


def retune(root: FilePath, texts: Sequence[str], today: date, *, write: bool) -> Retuned:
    """Stamp the recognitions that selections name: themselves, or all of a camera.

    The stamp is the fingerprint in force (`tuned_under`) and its day (`tuned`).

    Raises:
        CallRefused: a selection names no recognition, or a file cannot be written.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    names = dict.fromkeys(
        name for path in selections(texts, shop) for name in _recognitions(path, shop)
    )
    edits = []
    for name in names:
        recognition = shop.recognitions[name]
        camera = shop.cameras.get(recognition.camera)
        if camera is None:
            raise CallRefused(f"The camera of recognitions.{name} is not described.")
        stamp = tuning_fingerprint(camera, recognition)
        if (recognition.tuned_under, recognition.tuned) != (stamp, today):
            edits.append(Edit(("recognitions", name, "tuned"), today.isoformat()))
            edits.append(Edit(("recognitions", name, "tuned_under"), stamp))
    stamped = tuple(dict.fromkeys(edit.path[1] for edit in edits))
    known_good = KnownGood(reading, root)
    lost = _lost({shop.recognitions[name].camera for name in stamped}, known_good.shop(), shop)
    proposal = propose(root, reading, edits, write=write)
    return Retuned(tuple(names), stamped, proposal, lost, known_good.title)


def _lost(cameras: set[str], good: Shop | None, shop: Shop) -> tuple[Path, ...]:
    """Return the settings of some cameras that were lost since the record."""
    changes = camera_losses(good, shop) if good else ()
    return tuple(
        path for change in changes if change.path[1] in cameras for path, _, _ in change.leaves()
    )


def _recognitions(path: Path, shop: Shop) -> tuple[str, ...]:
    if path == ("recognitions",) or path == ("cameras",):
        return tuple(shop.recognitions)
    if path[0] == "recognitions":
        return (path[1],)
    if path[0] == "cameras":
        return Facts(shop).usage.recognitions_of_camera(path[1])
    raise CallRefused(
        f"{show(path)} is not a recognition: name recognitions, or the camera that they use."
    )
