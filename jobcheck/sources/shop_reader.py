"""Read a state as a shop: its files, their values, and all their faults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from jobcheck.findings import CallRefused, Finding, command, fault, sentences
from jobcheck.schema.job import WHOLE, Job, JobDraft
from jobcheck.schema.shop_file import BRINGS, COLLECTIONS
from jobcheck.shop.classes import KINDS, text_keys
from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop
from jobcheck.sources.places import Places, ReadFile
from jobcheck.sources.state.state import ROOT_FILE, State, Unreadable, named_files
from jobcheck.sources.validation import validate
from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.text import NotUnderstood
from jobcheck.wording import count, listed

EDITION = 1
TRIALS = "trials/*.yaml"


@dataclass(frozen=True)
class Reading:
    """A state as read: the shop, the faults of its files, and the place of every value.

    `shop` is None where shop.yaml itself cannot be understood.
    """

    state: State
    shop: Shop | None
    faults: tuple[Finding, ...]
    places: Places
    trials: Mapping[str, ReadFile] = field(default_factory=dict)

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files that were read, in the order in which the shop names them."""
        return tuple(self.places.held)


def read_shop(state: State, like: Reading | None = None) -> Reading:
    """Read the shop that a state holds.

    Files whose bytes equal those of the reading `like` are not read again.
    """
    return _ShopReader(state, like).read()


def understood(reading: Reading) -> Shop:
    """Return the shop of a reading whose files are all understood.

    Raises:
        CallRefused: one is not; the message is the first fault.
    """
    if reading.shop is None or reading.faults:
        first = reading.faults[0]
        more = count(len(reading.faults) - 1, "more fault") if reading.faults[1:] else ""
        raise CallRefused(
            f"The state {reading.state.label} is unreadable: {first.place}: {first.message} "
            f"{sentences(first.remedy)}",
            *((f"To see {more}:", command("lint")) if more else ()),
        )
    return reading.shop


def require_job(shop: Shop, name: str) -> None:
    """Refuse a job that does not exist, or is a list alone.

    Raises:
        CallRefused: it says which jobs there are, or what the job lacks.
    """
    if name in shop.jobs:
        return
    if name in shop.drafts:
        lacks = listed([f"no {key}" for key in shop.drafts[name].lacks])
        raise CallRefused(f"Job {name} is not described whole: {lacks} in its job.yaml.")
    raise CallRefused(f"Job {name} does not exist. Jobs: {listed(list(shop.jobs)) or 'none'}.")


@dataclass
class _ShopReader:
    state: State
    like: Reading | None
    faults: list[Finding] = field(default_factory=list)
    held: dict[str, ReadFile] = field(default_factory=dict)
    broken: set[Path] = field(default_factory=set)
    repeated: dict[Path, int] = field(default_factory=dict)
    listed_fiducials: dict[str, dict[str, Any]] = field(default_factory=dict)
    collected: dict[str, Any] = field(default_factory=dict)

    def read(self) -> Reading:
        root = self._document(ROOT_FILE, "shop", ("shop",), None)
        if root is None or root.model is None:
            return Reading(self.state, None, tuple(self.faults), Places(self.held))
        model: Any = root.model
        plain: dict[str, Any] = {"shop": root.plain}
        self.broken |= {
            (name,)
            for kind, names in BRINGS.items()
            for name in names
            if ("shop", kind) in self.broken
        }
        machine = self._machine(model.machine, plain)
        for kind, collections in COLLECTIONS.items():
            self.collected |= self._collect(kind, collections, getattr(model, kind), plain)
        jobs, drafts = self._jobs(model.jobs, plain)
        bridge = self._bridge(model.bridge, plain) if model.bridge is not None else None
        trials = self._trials()
        shop = Shop(
            name=self.state.name,
            root=model,
            machine=machine,
            jobs=jobs,
            drafts=drafts,
            plain=plain,
            not_understood=frozenset(self.broken),
            repeated=self.repeated,
            listed_fiducials=self.listed_fiducials,
            bridge=bridge,
            trials={_stem(name): held.model for name, held in trials.items() if held.model},
            **self.collected,
        )
        return Reading(self.state, shop, tuple(self.faults), Places(self.held), trials)

    def _trials(self) -> dict[str, ReadFile]:
        """Read the trials: they are beside the description, and no part of it."""
        found: dict[str, ReadFile] = {}
        for name in named_files(self.state.files, TRIALS):
            data = self._bytes(name, None)
            if data is not None:
                found[name] = self._read_document(name, "trial", ("trials", _stem(name)), data)
                self.faults += found[name].faults
        return found

    # one file

    def _bytes(self, name: str, named_at: Path | None) -> bytes | None:
        where = Place(name) if named_at is None else self._place(named_at)
        if name.startswith("/") or ".." in name.split("/") or "\\" in name:
            says = f"{name} is outside the shop's folder."
            self.faults.append(fault(where, "file-missing", says, "Name a file inside it."))
            return None
        try:
            return self.state.files[name]
        except KeyError:
            says, do = f"{name} does not exist.", "Restore it, or correct the name."
            self.faults.append(fault(where, "file-missing", says, do))
        except Unreadable as error:
            do = "Replace it with a readable text file."
            self.faults.append(fault(Place(name), "file-unreadable", f"{name} {error}.", do))
        return None

    def _place(self, path: Path) -> Place:
        return Places(self.held).of(path)

    def _document(
        self, name: str, kind: str, prefix: Path, named_at: Path | None
    ) -> ReadFile | None:
        """Read one YAML file of a known kind; note its faults and return the readable part."""
        if name in self.held:
            says = f"{name} is named twice in {ROOT_FILE}."
            self.faults.append(fault(Place(ROOT_FILE), "file-missing", says, "Name it once."))
            return None
        data = self._bytes(name, named_at)
        if data is None:
            return None
        known = self.like.places.held.get(name) if self.like else None
        if known and known.data == data and (known.kind, known.prefix) == (kind, prefix):
            held = known.alone()
        else:
            held = self._read_document(name, kind, prefix, data)
        self.held[name] = held
        self.faults += held.faults
        self.broken |= held.broken
        return held

    def _read_document(self, name: str, kind: str, prefix: Path, data: bytes) -> ReadFile:
        try:
            document = read_yaml(data, name, text_keys(kind))
        except NotUnderstood as error:
            return ReadFile(data, kind, prefix, faults=(error.fault,))
        held = ReadFile(data, kind, prefix, plain=document.plain, table=document.table)
        wrong = _wrong_kind(held, name)
        if wrong:
            return ReadFile(data, kind, prefix, faults=(wrong,), table=document.table)
        if kind == "job":
            return held
        return validate(held, KINDS[kind], name)

    # the kinds

    def _machine(self, name: str, plain: dict[str, Any]) -> Any:
        held = self._document(name, "machine", (), ("shop", "machine"))
        if held is not None:
            plain |= _content(held)
        if held is None or held.model is None:
            self.broken |= {(field,) for field in KINDS["machine"].model_fields}
            return None
        return held.model

    def _bridge(self, name: str, plain: dict[str, Any]) -> Any:
        held = self._document(name, "bridge", ("bridge",), ("shop", "bridge"))
        if held is not None:
            plain["bridge"] = held.plain
        if held is None or held.model is None:
            self.broken.add(("bridge",))
        return held.model if held is not None else None

    def _collect(
        self, kind: str, collections: tuple[str, ...], patterns: list[str], plain: dict[str, Any]
    ) -> dict[str, dict[str, Any]]:
        merged: dict[str, dict[str, Any]] = {name: {} for name in collections}
        origin: dict[Path, str] = {}
        for name, named_at in self._named(kind, patterns):
            held = self._document(name, kind, (), named_at)
            if held is None or held.model is None:
                self.broken |= {(collection,) for collection in collections}
            if held is None:
                continue
            for collection in collections:
                found = _content(held).get(collection)
                entries = found if isinstance(found, dict) else {}
                for key in entries:
                    self._claim((collection, key), name, origin)
                    plain.setdefault(collection, {})[key] = entries[key]
                if held.model is not None:
                    merged[collection] |= getattr(held.model, collection)
        return merged

    def _claim(self, path: Path, name: str, origin: dict[Path, str]) -> None:
        """Note the place of an identity; an identity in two files is a fault at both places."""
        if path not in origin:
            origin[path] = name
            return
        for here, there in ((origin[path], name), (name, origin[path])):
            place = self.held[here].key_place(path) or Place(here)
            says = f"{path[-1]} is among the {path[0]} of {there} too."
            self.faults.append(fault(place, "key-repeated", says, "Keep one of the two.", path))

    def _named(self, kind: str, patterns: list[str]) -> Iterator[tuple[str, Path]]:
        for index, pattern in enumerate(patterns):
            named_at = ("shop", kind, str(index))
            for name in named_files(self.state.files, pattern):
                yield name, named_at

    def _jobs(
        self, patterns: list[str], plain: dict[str, Any]
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        """Read the jobs; those that are not whole are drafts."""
        jobs: dict[str, Any] = {}
        drafts: dict[str, Any] = {}
        plain["jobs"] = {}
        for file, named_at in self._named("jobs", patterns):
            folder = file.rpartition("/")[0]
            name = folder.rpartition("/")[2] or self.state.name
            if name in plain["jobs"]:
                says = f"Another job is in a folder named {name}."
                do = "Rename one of the folders: its name is the name of the job."
                self.faults.append(fault(Place(file), "key-repeated", says, do))
                continue
            path = ("jobs", name)
            held = self._document(file, "job", path, named_at)
            if held is not None and held.plain:
                held = self._with_lists(file, held, f"{folder}/" if folder else "")
                plain["jobs"][name] = held.plain
            if held is None or held.model is None:
                self.broken.add(path)
            else:
                (jobs if isinstance(held.model, Job) else drafts)[name] = held.model
        return jobs, drafts

    def _with_lists(self, file: str, held: ReadFile, folder: str) -> ReadFile:
        """Read a job's placement list and bill, then validate the job with them."""
        plain = dict(held.plain)
        lists: dict[str, ReadFile] = {}
        for block in ("placements", "bill"):
            options = plain.get(block)
            if isinstance(options, dict) and isinstance(options.get("file"), str):
                read = self._list(folder + options["file"], block, options, held)
                if read is None:
                    self.broken.add((*held.prefix, block))
                    continue
                lists[folder + options["file"]] = read
                plain[block] = {**options, **read.plain}
        known = self.like.places.held.get(file) if self.like else None
        if known and known.data == held.data and known.plain == plain:
            checked = known
        else:
            joined = ReadFile(
                held.data, "job", held.prefix, plain=plain, table=held.table, document=held.plain
            )
            model = Job if set(WHOLE) <= plain.keys() else JobDraft
            checked = validate(joined, model, file)
        self.held[file] = checked
        self.held |= lists
        self.faults += checked.faults
        self.broken |= checked.broken
        return checked

    def _list(
        self, name: str, block: str, options: Mapping[str, Any], job: ReadFile
    ) -> ReadFile | None:
        from jobcheck.sources.lists.described import read_list, rows_of
        from jobcheck.sources.lists.options import options_of

        prefix = (*job.prefix, block)
        data = self._bytes(name, (*prefix, "file"))
        if data is None:
            return None
        known = self.like.places.held.get(name) if self.like else None
        asked = options_of(options)
        read = None
        if known and known.data == data and (known.prefix, known.asked) == (prefix, asked):
            read = known.listed
        try:
            read = read or read_list(data, name, block, asked)
        except NotUnderstood as error:
            self.faults.append(error.fault)
            self.held[name] = ReadFile(data, block, prefix, faults=(error.fault,))
            return None
        for reference, starts in read.repeated.items():
            self.repeated[(*prefix, reference)] = len(starts)
        if read.fiducials:
            self.listed_fiducials[job.prefix[1]] = read.fiducials
        rows = rows_of(read, self.collected["parts"], self.collected["outlines"])
        if known and known.listed is read and known.plain == rows:
            return known
        return ReadFile(data, block, prefix, plain=rows, cells=read.cells, listed=read, asked=asked)


def _stem(name: str) -> str:
    return name.rpartition("/")[2].removesuffix(".yaml")


def _content(held: ReadFile) -> dict[str, Any]:
    return {k: v for k, v in held.plain.items() if k not in ("describes", "edition")}


def _wrong_kind(held: ReadFile, name: str) -> Finding | None:
    """Say why a document is not of the kind and edition that is expected of it."""
    described, edition = held.plain.get("describes"), held.plain.get("edition")
    if described != held.kind:
        place = held.value_place(("describes",)) or Place(name)
        says = (
            f"{name} describes {described}, but the shop names it as its {held.kind}."
            if "describes" in held.plain
            else f"{name} does not say what it describes."
        )
        return fault(place, "kind-wrong", says, f"Begin it with `describes: {held.kind}`.")
    if isinstance(edition, int) and not isinstance(edition, bool) and edition > EDITION:
        place = held.value_place(("edition",)) or Place(name)
        says = f"{name} is written for edition {edition}; this jobcheck reads {EDITION}."
        return fault(place, "edition-newer", says, "Install a newer jobcheck.")
    return None
