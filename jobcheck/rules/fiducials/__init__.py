"""Rules about fiducials."""

from jobcheck.rules.base import Rule
from jobcheck.rules.fiducials import accuracy, described, measured

RULES: tuple[Rule, ...] = (
    described.fiducials_too_few,
    described.fiducial_outside_board,
    described.fiducial_unsuitable,
    described.fiducials_badly_spread,
    described.fiducials_symmetric,
    described.fiducial_look_alike,
    accuracy.fiducial_error_too_large,
    measured.measured_fiducials_do_not_fit,
)
