"""The controller's own files beside a lint: compared as far as they are there, placed always."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path as FilePath

from jobcheck.findings import Command, Finding, Related, Unchecked
from jobcheck.shop.paths import Path, is_within, paths_among
from jobcheck.shop.places import Place
from jobcheck.shop.shop import ControllerValue
from jobcheck.shop.values import MISSING
from jobcheck.sources.bridge.gathering import differences
from jobcheck.sources.bridge.mapping import Mapped, map_values
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.state import Files, folder_state

RULE = "controller-differs"
"""The rule that compares; a shop that disables it is not compared."""


@dataclass(frozen=True)
class Controller:
    """The controller's files of one state of a shop, read once, when first needed.

    They are read from `folder`, which the call names, else from the same state as the description:
    the folder, or the index. What is not there is not compared.
    """

    reading: Reading
    folder: FilePath | None = None

    @property
    def _files(self) -> Files:
        return folder_state(self.folder).files if self.folder else self.reading.state.files

    @cached_property
    def mapped(self) -> Mapped:
        """The values that the shop's map finds in the files."""
        shop = self.reading.shop
        if shop is None or shop.bridge is None:
            return Mapped()
        return map_values(shop.bridge, self._files, self.reading.places.of)

    @property
    def is_writable(self) -> bool:
        """Whether every file is there and understood: only then `--deliver` is not refused."""
        return not self.mapped.absent and not self.mapped.faults

    @property
    def is_compared(self) -> bool:
        """Whether the shop has a map and does not disable the comparison."""
        shop = self.reading.shop
        return shop is not None and shop.bridge is not None and RULE not in shop.root.disabled

    def compared(self) -> Reading:
        """Return the reading with the controller's differing values and the faults of its files."""
        shop = self.reading.shop
        if shop is None or not self.is_compared:
            return self.reading
        found = tuple(
            ControllerValue(
                one.path,
                one.file,
                None if one.controller is MISSING else one.controller,
                one.target is None,
            )
            for one in differences(self.mapped, shop.plain)
            if shop.understood(one.path)
        )
        compared = frozenset(target.path for target in self.mapped.targets)
        faults = (one._replace(place=self._here(one.place)) for one in self.mapped.faults)
        return replace(
            self.reading,
            shop=replace(shop, controller=found, in_controller=compared),
            faults=(*self.reading.faults, *faults),
        )

    def not_compared(self) -> Iterator[Unchecked]:
        """Yield that the description is not compared with the files that are not there."""
        shop = self.reading.shop
        if shop is None or shop.bridge is None or not self.is_compared or not self.mapped.absent:
            return
        paths = tuple(
            ("bridge", "files", key, "file")
            for key, described in shop.bridge.files.items()
            if described.file in self.mapped.absent
        )
        yield Unchecked(
            "the description against the controller",
            self._why_absent(),
            "--controller",
            paths,
            len(paths),
            RULE,
        )

    def _why_absent(self) -> str:
        absent = ", ".join(self.mapped.absent)
        if self.folder and not self.folder.is_dir():
            return f"{self.folder.as_posix()}, the folder of --controller, does not exist"
        if self.folder:
            return f"{absent} not in {self.folder.as_posix()}, the folder of --controller"
        is_staged = self.reading.state.label == "staged"
        where = "not in the index" if is_staged else "not on this machine"
        return f"{absent} {where}; --controller FOLDER names the folder"

    def placed(self, findings: Iterable[Finding]) -> tuple[Finding, ...]:
        """Return findings with their places in the controller's files, and remedies of both sides.

        Where the controller has a restored value too, `restore` is proposed with `--deliver`.
        """
        found = tuple(findings)
        if not found or not self.mapped.targets:
            return found
        targets = {target.path: target for target in self.mapped.targets}
        wanted = {path: targets[path] for one in found for path in _paths(one) if path in targets}
        hits = [target for target in wanted.values() if target.hit]
        places = self.mapped.places(hits) if hits else {}
        here = {path: self._here(place) for path, place in places.items()}
        return tuple(self._on_both_sides(_with(one, here)) for one in found)

    def _here(self, place: Place) -> Place:
        """Return a place in a controller's file, whole where the call names the folder."""
        if self.folder is None or place.file in self.reading.files:
            return place
        return place._replace(file=(self.folder / place.file).as_posix())

    def _on_both_sides(self, finding: Finding) -> Finding:
        remedy = tuple(
            self.delivering(step) if isinstance(step, Command) else step for step in finding.remedy
        )
        return finding._replace(remedy=remedy)

    def delivering(self, step: Command) -> Command:
        """Return a restore with `--deliver` where the controller has one of its values."""
        arguments = step.arguments
        if step.program or arguments[:1] != ("restore",) or "--deliver" in arguments:
            return step
        selected = paths_among(arguments[1:])
        paths = (target.path for target in self.mapped.targets)
        if self.is_writable and any(is_within(path, one) for path in paths for one in selected):
            return step.adding("--deliver")
        return step


def _paths(finding: Finding) -> tuple[Path, ...]:
    return (finding.path, *(path for _, path in finding.related))


def _with(finding: Finding, places: dict[Path, Place]) -> Finding:
    more = tuple(Related(places[path], path) for path in _paths(finding) if path in places)
    return finding._replace(related=(*finding.related, *more)) if more else finding
