"""How far off the parts of a job are placed: the shares of each cause, and the Cpk."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.fiducial_error import expected_error
from jobcheck.facts.layout import Layout
from jobcheck.facts.shifts import allowed_shift_mm
from jobcheck.schema.machine import Camera, Machine
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.capability import CAPABLE, Share, capability, side_shift_limit_mm
from jobcheck.trade.cases import CHIP_CASES

_DRIFT = "cyclic drift"
_SINE = 2 * sqrt(2)
"""Peak to peak of a sine over its standard deviation (arithmetic)."""


class Budget(NamedTuple):
    """One outline of a job: what it allows, mm, the shares of each cause, and the Cpk.

    `missing` are causes that are not described, and so not in it.
    """

    outline: str
    placements: int
    allowed: float
    shares: tuple[Share, ...]
    cpk: float
    missing: tuple[str, ...]

    @property
    def best_gain(self) -> tuple[Share, float] | None:
        """The cause whose removal gains most, with the Cpk without it."""
        gains = [
            (capability(self.allowed, [s for s in self.shares if s is not share]), share)
            for share in self.shares
            if share.mm > 0
        ]
        if not gains:
            return None
        cpk, share = max(gains, key=lambda gain: gain[0])
        return share, cpk


def budgets(facts: Facts, job: str) -> tuple[Budget, ...]:
    """Return the budgets of a job's outlines whose terminals are known, the least Cpk first.

    Empty where the machine's repeatability is not described.
    """
    shop, layout = facts.shop, facts.layouts[job]
    machine = shop.machine
    if machine is None or _repeatability(machine) is None:
        return ()
    found = []
    for name, places in sorted(layout.on_board.items(), key=lambda entry: natural(entry[0])):
        outline = shop.outlines[name]
        allowed = allowed_shift_mm(outline, shop.limits)
        if allowed is None:
            continue
        shares, missing = _shares(shop, machine, job, layout, outline, places)
        cpk = capability(allowed, shares)
        found.append(Budget(name, len(places), allowed, shares, cpk, missing))
    return tuple(sorted(found, key=lambda budget: budget.cpk))


def smallest_chip(shop: Shop, shares: tuple[Share, ...]) -> str | None:
    """Return the inch code of the narrowest chip that reaches a Cpk of 1.33 with some shares."""
    for chip in sorted(CHIP_CASES.values(), key=lambda chip: chip.body_mm[1]):
        width: float = chip.body_mm[1]
        allowed = side_shift_limit_mm(width, width, shop.limits.ipc_class)
        if capability(allowed, shares) >= CAPABLE:
            return chip.inch
    return None


def _repeatability(machine: Machine) -> float | None:
    described = machine.repeatability
    axes: tuple[float | None, ...] = (described.x_mm, described.y_mm) if described else ()
    return max((mm for mm in axes if mm is not None), default=None)


def _shares(
    shop: Shop,
    machine: Machine,
    job: str,
    layout: Layout,
    outline: Outline,
    places: list[int],
) -> tuple[tuple[Share, ...], tuple[str, ...]]:
    """Return the causes that are described, and the names of those that are not."""
    fiducials = expected_error(shop, job, layout, places)
    recognition = shop.recognitions.get(outline.recognition or "")
    camera = shop.cameras.get(recognition.camera) if recognition else None
    found = {
        "repeatability": _repeatability(machine),
        _DRIFT: _drift(machine),
        "pixel of the camera": _pixel(camera),
        "scale of the camera": _scale(camera, shop.limits.field_margin_mm),
        "reversal": _reversal(machine),
        "tip eccentricity": _eccentricity(machine, recognition),
        "fiducials": fiducials,
        "seat": None if fiducials is not None else shop.limits.seat_error_mm,
    }
    biases = ("scale of the camera", "reversal", "tip eccentricity", "seat")
    shares = [Share(cause, mm, cause in biases) for cause, mm in found.items() if mm is not None]
    optional = (_DRIFT, "fiducials", "seat")
    missing = [cause for cause, mm in found.items() if mm is None and cause not in optional]
    return tuple(shares), tuple(missing)


def _drift(machine: Machine) -> float | None:
    described = machine.drift
    axes = (described.x_mm, described.y_mm) if described else ()
    return max((mm / _SINE for mm in axes if mm is not None), default=None)


def _pixel(camera: Camera | None) -> float | None:
    """A place that is rounded to a pixel: its width by the root of 12 (uniform distribution)."""
    if camera is None or camera.mm_per_pixel is None:
        return None
    return max(camera.mm_per_pixel.x, camera.mm_per_pixel.y) / sqrt(12)


def _scale(camera: Camera | None, from_centre_mm: float) -> float | None:
    """The scale against the ruler's field, over the distance of a usual pick from the centre."""
    if camera is None or not (camera.field_mm and camera.resolution_px and camera.mm_per_pixel):
        return None
    scales = camera.mm_per_pixel.x, camera.mm_per_pixel.y
    relative = max(
        abs(field / (pixels * scale) - 1)
        for field, pixels, scale in zip(camera.field_mm, camera.resolution_px, scales, strict=True)
    )
    return relative * from_centre_mm


def _reversal(machine: Machine) -> float | None:
    """Half of the lost motion of the axes that are not always approached from one side."""
    described = machine.reversal
    if described is None:
        return None
    approached = {d[1] for d in machine.approach.direction} if machine.approach else set()
    axes = {"x": described.x, "y": described.y}
    return max((mm / 2 for a, mm in axes.items() if mm and a not in approached), default=0.0)


def _eccentricity(machine: Machine, recognition: Recognition | None) -> float | None:
    """Twice the radius of the tip's circle: the part may turn by half after its picture."""
    radii = [s.tip_eccentricity_mm for s in machine.spindles.values()]
    known = [radius for radius in radii if radius is not None]
    if not known:
        return None
    is_turned = recognition is None or recognition.picture_attitude != "as-placed"
    return 2 * max(known) if is_turned else 0.0
