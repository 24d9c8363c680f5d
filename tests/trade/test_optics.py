"""Cameras in use: fields, exposures, blur, and streams that share a host."""

import pytest

from jobcheck.trade.optics import (
    blur_px,
    bytes_per_second,
    exposure_fits_frame,
    field_of_view,
    needed_microframe_bytes,
    pixels_across,
    reserved_microframe_bytes,
    ripple_percent,
    views_needed,
)


def test_field_and_pixels():
    assert field_of_view((1280, 720), (0.0182, 0.02)) == pytest.approx((23.296, 14.4))
    assert pixels_across(0.25, 0.0182) == pytest.approx(13.736, abs=1e-3)


@pytest.mark.parametrize(
    ("seen", "margin", "views"),
    [
        ((14, 14), 0, 1),
        ((14.4, 14.4), 0, 1),
        ((14, 14), 0.2, 1),
        ((14, 14), 0.25, 2),
        ((50, 20), 0, 6),
        ((0, 0), 0, 1),
    ],
)
def test_views(seen, margin, views):
    assert views_needed(seen, (23.3, 14.4), margin) == views


def test_a_field_without_size_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        views_needed((1, 1), (0, 10))


@pytest.mark.parametrize(
    ("exposure", "mains", "percent"),
    [(10_000, 50, 0.0), (200_000, 50, 0.0), (15_700, 50, 39.57), (8_300, 60, 0.8), (1, 50, 200.0)],
)
def test_ripple(exposure, mains, percent):
    assert ripple_percent(exposure, mains) == pytest.approx(percent, abs=0.01)


def test_ripple_of_no_exposure_is_that_of_the_light():
    assert ripple_percent(0, 50) == 200


@pytest.mark.parametrize(
    ("exposure", "rate", "fits"), [(100_000, 10, True), (100_100, 10, False), (15_700, 30, True)]
)
def test_exposure_and_frame(exposure, rate, fits):
    assert exposure_fits_frame(exposure, rate) is fits


def test_blur():
    assert blur_px(250, 10_000, 0.02) == pytest.approx(125)
    assert blur_px(0, 10_000, 0.02) == 0


def test_streams():
    assert bytes_per_second("MJPG", (640, 480), 30) is None
    assert bytes_per_second("Y16", (100, 100), 1) == 20_000
    assert bytes_per_second("GREY", (1280, 720), 10) == 9_216_000


@pytest.mark.parametrize(
    ("rate", "needed", "reserved"),
    [
        (8_000 * 1012, 1024, 1024),
        (8_000 * 1013, 1037, 2048),
        (8_000 * 3036, 3072, 3072),
        (8_000 * 3037, 3085, None),
        (0, 0, 0),
    ],
)
def test_microframes(rate, needed, reserved):
    assert needed_microframe_bytes(rate) == needed
    assert reserved_microframe_bytes(rate) == reserved
