"""Rules about accuracy: how far off a part may be because fiducials are measured with noise."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.fiducial_error import FiducialSet, fiducial_sets
from jobcheck.facts.layout import Layout
from jobcheck.facts.shifts import allowed_shift_mm
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import in_mm, layouts
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.planar import spread
from jobcheck.wording import count

_SIGMAS = 3
"""Standard deviations that must fit: 99.7 % of the parts (normal distribution)."""

_EXACT = 1e-9


class _Worst(NamedTuple):
    """The placement whose expected error is the largest share of the allowed one; mm."""

    reference: str
    outline: str
    error: float
    allowed: float
    marks: FiducialSet

    @property
    def share(self) -> float:
        """Three times the error as a share of the allowed one."""
        return _SIGMAS * self.error / self.allowed


@rule(
    Level.WARNING,
    fails="shop.limits.fiducial_noise_mm: 0.07",
    passes="shop.limits.fiducial_noise_mm: 0.06",
)
def fiducial_error_too_large(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Fiducials are measured too coarsely for some part, or are too close together for it.

    `limits.fiducial_noise_mm` in each fiducial makes an error at every placement; three times the
    expected error must be within the shift that the part's terminals allow. Of a board's and its
    panel's fiducials the better ones count. Without two fiducials nothing is checked; parts
    without described terminals are left out.

    On the machine: parts far from the fiducials are off their pads, others on each board.

    To do: use fiducials further apart, or measure them more finely.

    Source: linear propagation of the errors, J. M. Fitzpatrick, J. B. West, C. R. Maurer, IEEE
    TMI 17(5), 1998 (from memory); the allowed shift is IPC-A-610F 8.3.2.1.
    """
    for name, layout in layouts(look):
        found = [_worst(look, layout, marks) for marks in fiducial_sets(look.shop, name)]
        if not found and layout.bodies:
            path: Path = ("jobs", name, "board", "fiducials")
            concerns = f"accuracy of {count(len(layout.bodies), 'placement')} of {name}"
            cause = f"no two fiducials on {name}"
            yield Unchecked(concerns, cause, "fiducials", (path,), len(layout.bodies))
        if not found or any(worst is None for worst in found):
            continue
        worst = min((worst for worst in found if worst), key=lambda worst: worst.share)
        yield Problem(
            path=worst.marks.path,
            related=(("jobs", name, "placements", worst.reference),),
            message=f"{worst.reference} of {name} may be {in_mm(_SIGMAS * worst.error)} off by the "
            f"fiducials alone; {worst.outline} allows {in_mm(worst.allowed)}.",
            observed=f"fiducials {in_mm(spread(worst.marks.points))} apart, each measured to "
            f"{in_mm(look.limits.fiducial_noise_mm)} (limits.fiducial_noise_mm); expected there: "
            f"{in_mm(worst.error)}",
            consequence=f"Some {worst.outline} may be placed off their pads.",
            remedy=("Use fiducials further apart, or measure them more finely.",),
        )


def _worst(look: Inspection, layout: Layout, marks: FiducialSet) -> _Worst | None:
    """Return the placement with the largest error; None if all are well placed."""
    found, noise = [], look.limits.fiducial_noise_mm
    for outline, places in sorted(layout.on_board.items(), key=lambda entry: natural(entry[0])):
        allowed = allowed_shift_mm(look.shop.outlines[outline], look.limits)
        # The error grows outwards: at the corners of the box around all it is the largest.
        outermost = layout.corners(places)
        if not allowed or _SIGMAS * marks.error(outermost, noise) <= allowed:
            continue
        error, reference = max(
            (marks.error([layout.bodies[at].centre], noise), layout.references[at]) for at in places
        )
        if _SIGMAS * error > allowed + _EXACT:
            found.append(_Worst(reference, outline, error, allowed, marks))
    return max(found, key=lambda worst: worst.share, default=None)
