"""Look up each address of the map in the controller's files."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import NamedTuple

from jobcheck.findings import Finding, fault
from jobcheck.schema.bridge import Address, Bridge, ControllerFile, Each, EntryKey
from jobcheck.shop.classes import leaf_types, unit_of
from jobcheck.shop.paths import Path, is_within, parse, show
from jobcheck.shop.places import Place
from jobcheck.sources.bridge.conversions import Converter, Plain
from jobcheck.sources.bridge.opening import open_source
from jobcheck.sources.bridge.source import Hit, MapWrong, Native, Source
from jobcheck.sources.state.state import Files, Unreadable
from jobcheck.text import NotUnderstood

ADDRESS, VALUE = "bridge-address-wrong", "bridge-value-wrong"
_KEY = re.compile(r"[A-Za-z0-9_-]{1,100}")
_SHOWN = 4


class Target(NamedTuple):
    """One value of the description with the address that fills it.

    `hit` is the place in the file, None if there is none; `value` is its value in the
    description's terms, None if it is empty. `entry` is the address's path in the map, `inside`
    the repeated element in which the address begins.
    """

    path: Path
    file: str
    address: str
    entry: Path
    converter: Converter
    hit: Hit | None
    value: Plain | None
    inside: Hit | None = None


class MappedEntries(NamedTuple):
    """A collection that is filled from repeated elements, with the controller's keys."""

    collection: Path
    keys: frozenset[str]
    inside: tuple[Path, ...]
    file: str


@dataclass(frozen=True)
class Mapped:
    """The controller's files through the map.

    `faults` are those of the files and of the map: a single one prevents gathering and delivering.
    `absent` are missing files.
    """

    targets: tuple[Target, ...] = ()
    entries: tuple[MappedEntries, ...] = ()
    faults: tuple[Finding, ...] = ()
    absent: tuple[str, ...] = ()
    sources: Mapping[str, Source] = field(default_factory=dict, repr=False)
    data: Mapping[str, bytes] = field(default_factory=dict, repr=False)

    def within(self, paths: Iterable[Path]) -> Iterator[Target]:
        """Yield the targets within paths."""
        wanted = tuple(paths)
        for target in self.targets:
            if any(is_within(target.path, path) for path in wanted):
                yield target

    def places(self, targets: Sequence[Target]) -> dict[Path, Place]:
        """Return the places of targets in the controller's files, by path."""
        found: dict[Path, Place] = {}
        for name, source in self.sources.items():
            here = [target for target in targets if target.file == name and target.hit]
            hits = [target.hit for target in here if target.hit]
            places = source.places(hits) if hits else []
            found |= {target.path: place for target, place in zip(here, places, strict=True)}
        return found


def _as_written(source: Source, hit: Hit) -> Hit:
    """Return a number for a text field as it is spelled in the file: 0003, not 3."""
    slot = source.slots([hit])[0]
    return replace(hit, text=source.text.text[slot.start : slot.end]) if slot else hit


def map_values(bridge: Bridge, files: Files, place_of: Callable[[Path], Place]) -> Mapped:
    """Look up every address of a map in the controller's files; `place_of` gives a map's places."""
    return _Mapping(bridge, files, place_of).result()


@dataclass
class _Mapping:
    bridge: Bridge
    files: Files
    place_of: Callable[[Path], Place]
    targets: dict[Path, Target] = field(default_factory=dict)
    entries: list[MappedEntries] = field(default_factory=list)
    faults: list[Finding] = field(default_factory=list)
    absent: list[str] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)
    data: dict[str, bytes] = field(default_factory=dict)

    def result(self) -> Mapped:
        for key, described in self.bridge.files.items():
            entry = ("bridge", "files", key)
            source = self._open(entry, described)
            if source is not None:
                self._values(entry, described, source)
                for collection, each in described.each.items():
                    self._each((*entry, "each", collection), collection, each, source)
        return Mapped(
            tuple(self.targets.values()),
            tuple(self.entries),
            tuple(self.faults),
            tuple(self.absent),
            self.sources,
            self.data,
        )

    def _wrong(self, entry: Path, says: str, do: str, rule: str = ADDRESS) -> None:
        self.faults.append(fault(self.place_of(entry), rule, says, do, entry))

    # files

    def _open(self, entry: Path, described: ControllerFile) -> Source | None:
        name = described.file
        data = self._bytes(entry, name)
        if data is None:
            return None
        try:
            source = open_source(described, data)
        except NotUnderstood as error:
            self.faults.append(error.fault)
            return None
        self.sources[name], self.data[name] = source, data
        return source

    def _bytes(self, entry: Path, name: str) -> bytes | None:
        if name in self.sources:
            self._wrong(entry, f"{name} is mapped twice.", "Map it once.")
        elif name.startswith("/") or ".." in name.split("/") or "\\" in name or ":" in name:
            says = f"{name} is outside the shop's folder."
            do = "Name it from there, and give the folder that holds it with --controller FOLDER."
            self._wrong(entry, says, do)
        else:
            try:
                return self.files[name]
            except KeyError:
                self.absent.append(name)
            except Unreadable as error:
                do = "Replace it with a readable text file."
                self.faults.append(fault(Place(name), "file-unreadable", f"{name} {error}.", do))
        return None

    # single values

    def _values(self, entry: Path, described: ControllerFile, source: Source) -> None:
        for text, address in described.values.items():
            where = (*entry, "values", text)
            path = self._path(where, text)
            converter = path and self._converter(where, path, address)
            if path and converter:
                self._target(where, path, address, converter, source, None)

    def _path(self, entry: Path, text: str, below: Path = ()) -> Path | None:
        try:
            path = (*below, *parse(text))
        except ValueError as error:
            self._wrong(entry, f"{error}.", "Write a path as findings print it.")
            return None
        if path[0] in ("shop", "bridge", "describes", "edition") or not leaf_types(path):
            says = f"{show(path)} is not a single value of the description."
            self._wrong(entry, says, "Correct the path; `jobcheck schema` shows what there is.")
            return None
        return path

    def _converter(self, entry: Path, path: Path, how: Address) -> Converter | None:
        converter = Converter(how, leaf_types(path), unit_of(path))
        fault = converter.fault()
        if fault:
            self._wrong(entry, f"{show(path)} {fault}.", "Correct the conversion.")
            return None
        return converter

    def _target(
        self,
        entry: Path,
        path: Path,
        address: Address,
        converter: Converter,
        source: Source,
        inside: Hit | None,
    ) -> None:
        if path in self.targets:
            self._wrong(entry, f"{show(path)} is mapped twice.", "Map it once.")
            return
        hit = self._one(entry, address.at, source, inside)
        if hit and hit.native is Native.NUMBER and converter.types == {str}:
            hit = _as_written(source, hit)
        value = self._said(path, converter, source, hit) if hit else None
        self.targets[path] = Target(
            path, source.file, address.at, entry, converter, hit, value, inside
        )

    def _one(self, entry: Path, address: str, source: Source, inside: Hit | None) -> Hit | None:
        """Return the single value at an address, None if there is none."""
        try:
            hits = list(islice(source.find(address, inside), _SHOWN + 1))
        except MapWrong as error:
            self._wrong(entry, f"{address}: {error}.", "Correct the address.")
            return None
        if len(hits) > 1:
            lines = ", ".join(str(place) for place in source.places(hits[:_SHOWN]))
            more = " and more" if len(hits) > _SHOWN else ""
            says = f"{address} leads to several values: {lines}{more}."
            self._wrong(entry, says, "Make the address lead to one.")
            return None
        return hits[0] if hits else None

    def _said(self, path: Path, how: Converter, source: Source, hit: Hit) -> Plain | None:
        try:
            return how.gathered(hit)
        except MapWrong as error:
            place = source.places([hit])[0]
            says = f"{show(path)} {error}."
            do = "Correct the address or its conversion in the map, or the controller's file."
            self.faults.append(fault(place, VALUE, says, do, path))
            return None

    # repeated elements

    def _each(self, entry: Path, collection: str, each: Each, source: Source) -> None:
        try:
            base = parse(collection)
            elements = list(source.find(each.at))
        except ValueError as error:
            self._wrong(entry, f"{error}.", "Write a path as findings print it.")
            return
        except MapWrong as error:
            self._wrong(entry, f"{each.at}: {error}.", "Correct the address.")
            return
        fields = dict(self._fields(entry, base, each))
        keyed = self._keyed(entry, each, source, elements)
        for key, element in keyed.items():
            for text, (inner, converter) in fields.items():
                where = (*entry, "values", text)
                path = (*base, key, *inner)
                self._target(where, path, each.values[text], converter, source, element)
        inside = tuple(inner for inner, _ in fields.values())
        keys = frozenset(keyed) | frozenset(each.apart)
        self.entries.append(MappedEntries(base, keys, inside, source.file))

    def _fields(
        self, entry: Path, base: Path, each: Each
    ) -> Iterator[tuple[str, tuple[Path, Converter]]]:
        for text, address in each.values.items():
            where = (*entry, "values", text)
            path = self._path(where, text, (*base, "any"))
            converter = path and self._converter(where, path, address)
            if path and converter:
                yield text, (path[len(base) + 1 :], converter)

    def _keyed(
        self, entry: Path, each: Each, source: Source, elements: Sequence[Hit]
    ) -> dict[str, Hit]:
        found: dict[str, Hit] = {}
        for element in elements:
            key = self._key(entry, each.key, source, element)
            if key is None:
                continue
            if key in found:
                lines = ", ".join(map(str, source.places([found[key], element])))
                says = f"Two elements have the key {key}: {lines}."
                self._wrong(entry, says, "Correct the address of the key, or the file.")
            found.setdefault(key, element)
        return found

    def _key(self, entry: Path, how: EntryKey | None, source: Source, element: Hit) -> str | None:
        converter = Converter(how or EntryKey(), frozenset({str}))
        hit: Hit | None = element
        text = element.name
        if how and how.at:
            hit = self._one((*entry, "key"), how.at, source, element)
            text = hit.text if hit else ""
        try:
            first, last = converter.part(text)
            key = str(converter.value(text[first:last]))
        except MapWrong as error:
            key = f"it {error}"
        if _KEY.fullmatch(key):
            return key
        place = source.places([hit or element])[0]
        says = f"The key of an element at {place} is unusable: {key or 'empty'}."
        self._wrong(
            entry, says, "Use letters, digits, _ and -: correct its address, or convert it."
        )
        return None
