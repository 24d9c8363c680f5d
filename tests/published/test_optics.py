"""Cameras against machine-vision handbooks, the V4L2 reference and the USB 2.0 limits."""

import pytest

from jobcheck.trade.optics import (
    HOST_MICROFRAME_BYTES,
    MICROFRAMES_PER_S,
    PACKET_BYTES,
    PACKETS_PER_MICROFRAME,
    bytes_per_second,
    exposure_us,
    field_through_lens,
    fits_one_host,
    flicker_us,
    magnification,
    reserved_microframe_bytes,
)


def test_the_worked_lens():
    """8.8 mm sensor, 16 mm lens at 400 mm: 211.2 mm exact, 220 mm by the far-field form."""
    assert field_through_lens(8.8, 16, 400) == pytest.approx(211.2)
    assert field_through_lens(8.8, 16, 400) < 8.8 * 400 / 16


def test_the_thin_lens_equation():
    """1/f = 1/WD + 1/image distance, and M is image distance over WD."""
    image = 1 / (1 / 16 - 1 / 400)
    assert magnification(16, 400) == pytest.approx(image / 400)
    with pytest.raises(ValueError, match="focal length"):
        magnification(16, 16)


def test_exposure_counts_100_us():
    """Linux kernel V4L2 camera control reference."""
    assert exposure_us(157) == 15_700


@pytest.mark.parametrize(("mains", "period"), [(50, 10_000), (60, 8333.333)])
def test_mains_light_flickers_at_twice_the_mains(mains, period):
    assert flicker_us(mains) == pytest.approx(period, abs=0.001)


def test_one_endpoint_carries_24_576_megabytes():
    """USB 2.0 specification 5.6: 3 × 1024 bytes × 8000 a second."""
    assert PACKETS_PER_MICROFRAME * PACKET_BYTES * MICROFRAMES_PER_S == 24_576_000
    assert not fits_one_host([3 * PACKET_BYTES] * 2)
    assert fits_one_host([3 * PACKET_BYTES, 2 * PACKET_BYTES])
    assert HOST_MICROFRAME_BYTES == 0.8 * 7500


@pytest.mark.parametrize(
    ("resolution", "megabytes", "reserved"), [((640, 480), 18.4, 3072), ((1280, 720), 55.3, None)]
)
def test_yuyv_at_30_hz(resolution, megabytes, reserved):
    rate = bytes_per_second("YUYV", resolution, 30)
    assert rate is not None
    assert rate / 1e6 == pytest.approx(megabytes, abs=0.05)
    assert reserved_microframe_bytes(rate) == reserved
