"""Stamping recognitions with the fingerprint in force, on the user's word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

from jobcheck.commands.calls import CallRefused
from jobcheck.commands.compare import understood
from jobcheck.commands.proposals import Proposal, propose
from jobcheck.commands.selections import selections
from jobcheck.description.fingerprint import tuning_fingerprint
from jobcheck.description.paths import Path, show
from jobcheck.description.shop import Shop
from jobcheck.sources.edits import Edit
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state import folder_state


@dataclass(frozen=True)
class Retuned:
    """The recognitions that were named, and what is stamped of them."""

    names: tuple[str, ...]
    stamped: tuple[str, ...]
    proposal: Proposal


def retune(root: FilePath, texts: Sequence[str], *, write: bool) -> Retuned:
    """Stamp the recognitions that selections name: themselves, or all of a camera.

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
            raise CallRefused(f"recognitions.{name} names no camera that is described.")
        stamp = tuning_fingerprint(camera, recognition)
        if stamp != recognition.tuned_under:
            edits.append(Edit(("recognitions", name, "tuned_under"), stamp))
    proposal = propose(root, reading, edits, write=write)
    return Retuned(tuple(names), tuple(edit.path[1] for edit in edits), proposal)


def _recognitions(path: Path, shop: Shop) -> tuple[str, ...]:
    if path == ("recognitions",) or path == ("cameras",):
        return tuple(shop.recognitions)
    if path[0] == "recognitions":
        return (path[1],)
    if path[0] == "cameras":
        return shop.usage.recognitions_of_camera(path[1])
    raise CallRefused(
        f"{show(path)} names no recognition: name recognitions, or the camera that they use."
    )
