"""Write values of the description into the controller's files; all other bytes stay the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from jobcheck.schema.bridge import Bridge
from jobcheck.shop.paths import Path, show
from jobcheck.shop.places import Place
from jobcheck.shop.values import same
from jobcheck.sources.bridge.conversions import Plain
from jobcheck.sources.bridge.mapping import Mapped, Target, map_values
from jobcheck.sources.bridge.source import MapWrong, Native, Slot, Source
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.state.state import HeldFiles


class Delivery(NamedTuple):
    """One value written into a controller's file: its old text and its new text."""

    target: Target
    value: Plain
    place: Place
    before: str
    after: str


class Delivered(NamedTuple):
    """The new bytes of each changed file, and its changes."""

    files: dict[str, bytes]
    deliveries: tuple[Delivery, ...]


def deliver_to(mapped: Mapped, bridge: Bridge, wanted: Iterable[tuple[Target, Plain]]) -> Delivered:
    """Return the controller's files with values written in, after reading them back.

    Raises:
        EditRefused: a value has no place, cannot be written, or would change another.
    """
    by_file: dict[str, list[tuple[Target, Plain]]] = {}
    for target, value in wanted:
        by_file.setdefault(target.file, []).append((target, value))
    files: dict[str, bytes] = {}
    deliveries: list[Delivery] = []
    for name, pairs in by_file.items():
        edits = _Edits(mapped.sources[name], mapped.data[name])
        deliveries += edits.put(pairs)
        files[name] = edits.result()
    _check(mapped, bridge, files, deliveries)
    return Delivered(files, tuple(deliveries))


class _Edits:
    """Edits of one file."""

    def __init__(self, source: Source, data: bytes) -> None:
        self.source = source
        self.spans: dict[tuple[int, int], str] = {}
        if source.text.encode(source.text.text) != data:
            raise EditRefused(
                f"{source.file} cannot be written: decoding and encoding it changes its bytes."
            )

    def put(self, pairs: Sequence[tuple[Target, Plain]]) -> list[Delivery]:
        standing = [target.hit for target, _ in pairs if target.hit]
        slots = iter(self.source.slots(standing) if standing else ())
        return [
            self._one(target, value, next(slots) if target.hit else self._room(target))
            for target, value in pairs
        ]

    def _room(self, target: Target) -> Slot:
        """Return the place for a missing value."""
        slot = self.source.room(target.address, target.inside)
        if slot is None:
            raise EditRefused(
                f"{show(target.path)} has no place in {target.file}: nothing is at "
                f"{target.address}. Let the controller write it once, then gather and deliver."
            )
        return slot

    def _one(self, target: Target, value: Plain, slot: Slot | None) -> Delivery:
        where = f"{show(target.path)} cannot be delivered to {target.file}"
        if slot is None:
            raise EditRefused(
                f"{where}: the value at {target.address} is interrupted by comments, "
                "spread over lines, or shared."
            )
        try:
            start, end, around = self._span(target, slot)
            before = self.source.text.text[start:end]
            said = target.converter.delivered(value, like=before)
            after = around[0] + slot.escape(said) + around[1]
        except (MapWrong, ValueError) as error:
            raise EditRefused(f"{where}: {error}.") from None
        if self.spans.setdefault((start, end), after) != after:
            raise EditRefused(f"{where}: another value of the description is there too.")
        place = self.source.text.place(start, end)
        return Delivery(target, value, place, before, after)

    def _span(self, target: Target, slot: Slot) -> tuple[int, int, tuple[str, str]]:
        hit = target.hit
        if hit is None or hit.native is Native.NOTHING:
            if target.converter.how.split:
                raise MapWrong("there is nothing there to separate")
            return slot.start, slot.end, slot.around
        if hit.native is not Native.TEXT:  # its text may differ from its spelling
            return slot.start, slot.end, ("", "")
        first, last = target.converter.part(hit.text)
        return (*slot.part(self.source.text.text, first, last), ("", ""))

    def result(self) -> bytes:
        text = self.source.text.text
        parts: list[str] = []
        done = 0
        for (start, end), content in sorted(self.spans.items()):
            if start < done:
                raise EditRefused(f"{self.source.file}: two values are in the same place.")
            parts += (text[done:start], content)
            done = end
        parts.append(text[done:])
        try:
            return self.source.text.encode("".join(parts))
        except UnicodeEncodeError:
            raise EditRefused(
                f"{self.source.file} is {self.source.text.encoding.upper()}, which lacks a "
                "character of the new value."
            ) from None


def _check(
    mapped: Mapped, bridge: Bridge, files: dict[str, bytes], deliveries: Sequence[Delivery]
) -> None:
    """Read the new bytes through the map: only the requested values may have changed.

    Raises:
        EditRefused: another value changed, or a requested one did not.
    """
    after = map_values(bridge, HeldFiles({**mapped.data, **files}), lambda path: Place("", 1, 1))
    if after.faults:
        fault = after.faults[0]
        raise EditRefused(f"{fault.place.file} would become unreadable: {fault.message}")
    asked: dict[Path, Plain] = {one.target.path: one.value for one in deliveries}
    before = {target.path: target.value for target in mapped.targets}
    now = {target.path: target.value for target in after.targets}
    for path in {**before, **now}:
        if path in asked and not same(now.get(path), asked[path]):
            raise EditRefused(f"{show(path)} would be read back as {now.get(path)}.")
        if path not in asked and not same(now.get(path), before.get(path)):
            raise EditRefused(
                f"{show(path)} would change as well, to {now.get(path)}: both share one place."
            )
