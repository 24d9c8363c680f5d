"""Rules about fiducials."""

from jobcheck.rules.base import Rule
from jobcheck.rules.fiducials import accuracy, described, measured

RULES: tuple[Rule, ...] = (
    described.fiducials_too_few,
    described.fiducial_outside_board,
    described.fiducial_size_unusual,
    described.fiducials_unequal,
    described.fiducial_ring_narrow,
    described.fiducial_near_edge,
    described.fiducials_close_together,
    described.fiducials_in_line,
    described.fiducials_symmetric,
    described.fiducial_look_alike,
    accuracy.fiducial_error_too_large,
    measured.measured_fiducial_unknown,
    measured.measured_fiducials_do_not_fit,
    measured.seat_contradicts_fiducials,
)
