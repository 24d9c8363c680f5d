"""A shop as it was understood: the models, the plain values and the links between them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from jobcheck.schema.feeders import Feeder
from jobcheck.schema.job import Job, JobDraft, Placement
from jobcheck.schema.limits import Limits
from jobcheck.schema.machine import Camera, Machine
from jobcheck.schema.parts import Outline, Part, Recognition
from jobcheck.schema.shop_file import ShopFile
from jobcheck.shop.paths import Path, look_up

if TYPE_CHECKING:  # loaded only where a shop has a map, or trials
    from jobcheck.schema.bridge import Bridge, Word
    from jobcheck.schema.trial import Trial

Plain = dict[str, Any]


class ControllerValue(NamedTuple):
    """A mapped value that differs between the controller's file and the description.

    `value` is in the description's terms, None if the file lacks it; `is_gone`: the whole
    repeated element is gone.
    """

    path: Path
    file: str
    value: Word | None
    is_gone: bool = False


@dataclass(frozen=True)
class Shop:
    """One workshop's whole description.

    `plain` is the tree of plain values for paths: the contents of shop.yaml under
    `shop`, jobs under `jobs` by their folder's name, everything else by its own first key.
    `not_understood` are the paths of values in the files that have faults; rules
    keep silent about what hangs on those.
    """

    name: str
    root: ShopFile
    machine: Machine | None
    outlines: Mapping[str, Outline]
    recognitions: Mapping[str, Recognition]
    parts: Mapping[str, Part]
    feeders: Mapping[str, Feeder]
    jobs: Mapping[str, Job]
    plain: Plain = field(repr=False)
    drafts: Mapping[str, JobDraft] = field(default_factory=dict)
    """Jobs whose side, board or seat is not described: only their lists are known."""
    not_understood: frozenset[Path] = frozenset()
    repeated: Mapping[Path, int] = field(default_factory=dict)
    """Placements listed more than once: path -> how often."""
    listed_fiducials: Mapping[str, Plain] = field(default_factory=dict)
    """Job -> fiducial rows of its placement list by reference, positions in mm on the board."""
    bridge: Bridge | None = None
    trials: Mapping[str, Trial] = field(default_factory=dict)
    """Trials by the name of their file, without its ending; no part of what diff compares."""
    controller: tuple[ControllerValue, ...] = ()
    """Mapped values that the controller's files and the description have differently."""
    in_controller: frozenset[Path] = frozenset()
    """Values that were compared with the controller's files; empty where none was."""

    @property
    def limits(self) -> Limits:
        """Thresholds in force."""
        return self.root.limits

    @property
    def cameras(self) -> Mapping[str, Camera]:
        """Cameras by name; none where the machine was not understood."""
        return self.machine.cameras if self.machine else {}

    def understood(self, path: Path) -> bool:
        """Tell whether nothing at, above or directly below a path has faults of its own."""
        above = (path[:length] for length in range(len(path) + 1))
        return self.not_understood.isdisjoint(above) and path not in self._above_faults

    @cached_property
    def _above_faults(self) -> frozenset[Path]:
        faults = self.not_understood
        return frozenset(path[:length] for path in faults for length in range(len(path)))

    def plain_at(self, path: Path) -> object:
        """Return the plain value at a path, or None."""
        return look_up(self.plain, path)

    def outline_of(self, part: str | None) -> Outline | None:
        """Return the outline of a part by the part's name, or None where a link is broken."""
        known = self.parts.get(part) if part is not None else None
        return self.outlines.get(known.outline) if known else None

    def height_path(self, part: str) -> Path:
        """Return the path of a described part's height: its own, else that of its outline."""
        has_own = self.parts[part].height_mm is not None
        owner = ("parts", part) if has_own else ("outlines", self.parts[part].outline)
        return (*owner, "height_mm")

    def height_of(self, part: str | None) -> float | None:
        """Return a part's height, mm: its own, else its outline's; None is unknown."""
        known = self.parts.get(part) if part is not None else None
        if known is None:
            return None
        if known.height_mm is not None:
            return known.height_mm
        outline = self.outlines.get(known.outline)
        return outline.height_mm if outline else None

    def placed(self, job: str) -> Iterator[tuple[str, Placement]]:
        """Yield (reference, placement) for what a job places: fitted, on the side it builds."""
        described = self.jobs[job]
        for reference, placement in described.placements.by_reference.items():
            if placement.fitted and placement.side == described.side:
                yield reference, placement
