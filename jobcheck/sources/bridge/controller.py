"""The controller's own files during a lint: places always, comparison if the shop requests it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from jobcheck.findings import Finding, Level, Related
from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place
from jobcheck.shop.shop import ControllerValue
from jobcheck.shop.values import MISSING
from jobcheck.sources.bridge.gathering import differences
from jobcheck.sources.bridge.mapping import Mapped, map_values
from jobcheck.sources.shop_reader import Reading

MISSING_FILE = "controller-file-missing"


@dataclass(frozen=True)
class Controller:
    """The controller's files of one state of a shop, read once, when first needed.

    They are read from the same state as the description: the folder or the index. At a commit,
    files outside the index are not compared.
    """

    reading: Reading

    @cached_property
    def mapped(self) -> Mapped:
        """The values that the shop's map finds in the files."""
        shop = self.reading.shop
        if shop is None or shop.bridge is None:
            return Mapped()
        return map_values(shop.bridge, self.reading.state.files, self.reading.places.of)

    def compared(self) -> Reading:
        """Return the reading with the controller's differing values and the faults of its files."""
        shop = self.reading.shop
        if shop is None or shop.bridge is None or not shop.root.check_bridge:
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
        return replace(
            self.reading,
            shop=replace(shop, controller=found),
            faults=(*self.reading.faults, *self.mapped.faults),
        )

    def not_compared(self) -> Iterator[Finding]:
        """Yield a finding for each mapped file that is missing."""
        shop = self.reading.shop
        if shop is None or shop.bridge is None or not shop.root.check_bridge:
            return
        is_staged = self.reading.state.label == "staged"
        for key, described in shop.bridge.files.items():
            if described.file in self.mapped.absent:
                path = ("bridge", "files", key)
                where = "not in the index" if is_staged else "not there"
                yield Finding(
                    MISSING_FILE,
                    Level.WARNING if is_staged else Level.ERROR,
                    self.reading.places.of((*path, "file")),
                    path,
                    f"{described.file} is {where}, so the description is not compared with it.",
                    consequence="The controller's values are unknown.",
                    remedy=(
                        "git add it, or remove check_bridge from shop.yaml."
                        if is_staged
                        else "Have the controller write it, correct the map, or remove "
                        "check_bridge.",
                    ),
                )

    def placed(self, findings: Iterable[Finding]) -> tuple[Finding, ...]:
        """Return findings with the places of their values in the controller's files."""
        found = tuple(findings)
        shop = self.reading.shop
        if not found or shop is None or shop.bridge is None:
            return found
        targets = {target.path: target for target in self.mapped.targets if target.hit}
        wanted = {path: targets[path] for one in found for path in _paths(one) if path in targets}
        places = self.mapped.places(tuple(wanted.values())) if wanted else {}
        return tuple(_with(one, places) for one in found)


def _paths(finding: Finding) -> tuple[Path, ...]:
    return (finding.path, *(path for _, path in finding.related))


def _with(finding: Finding, places: dict[Path, Place]) -> Finding:
    more = tuple(Related(places[path], path) for path in _paths(finding) if path in places)
    return finding._replace(related=(*finding.related, *more)) if more else finding
