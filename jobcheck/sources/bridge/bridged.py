"""A shop with its bridge: the map and the controller's files, read from one state."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused, Finding, command, sentences
from jobcheck.shop.shop import Shop
from jobcheck.sources.bridge.mapping import Mapped, map_values
from jobcheck.sources.shop_reader import Reading, read_shop, understood
from jobcheck.sources.state.state import Files, folder_state


class Bridged(NamedTuple):
    """A shop with the values that its map finds in the controller's files in `folder`."""

    root: FilePath
    folder: FilePath
    reading: Reading
    shop: Shop
    mapped: Mapped


def read_bridged(root: FilePath, controller: FilePath | None = None) -> Bridged:
    """Read the shop in `root` and the controller's files, below `controller` or the shop itself.

    Raises:
        CallRefused: the shop has no map, or a file or an address of it is not understood.
    """
    reading = read_shop(folder_state(root))
    shop = _shop_of(reading)
    folder = (controller or root).resolve()
    if not folder.is_dir():
        raise CallRefused(f"Folder {controller} does not exist.")
    mapped = map_of(reading, shop, folder_state(folder).files)
    if mapped.faults or mapped.absent:
        raise CallRefused(_described(mapped))
    return Bridged(root, folder, reading, shop, mapped)


def _shop_of(reading: Reading) -> Shop:
    """Return the shop; if its values are unreadable, a readable map is enough to gather them."""
    if reading.shop is None or reading.shop.bridge is None:
        if reading.shop is not None and reading.shop.root.bridge is None:
            raise CallRefused(
                "This shop has no map of the controller's files. To start one:",
                command("new", "--bridge", "FILE"),
            )
        return understood(reading)
    faults = [fault for fault in reading.faults if fault.path[:1] == ("bridge",)]
    if faults:
        raise CallRefused("\n".join(map(worded, faults)))
    return reading.shop


def map_of(reading: Reading, shop: Shop, files: Files) -> Mapped:
    """Look up the addresses of a shop's map, if it has one, in the controller's files."""
    return map_values(shop.bridge, files, reading.places.of) if shop.bridge else Mapped()


def _described(mapped: Mapped) -> str:
    lines = [worded(fault) for fault in mapped.faults]
    lines += [
        f"{name} does not exist. Correct the map, or name its folder with --controller FOLDER."
        for name in mapped.absent
    ]
    return "\n".join([*lines, "Nothing was changed."])


def worded(fault: Finding) -> str:
    """Return a fault in a sentence with its place."""
    return f"{fault.place}: {fault.message} {sentences(fault.remedy)}"
