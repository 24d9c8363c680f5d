"""Cameras against machine-vision handbooks, the V4L2 reference and the USB 2.0 limits."""

from itertools import product
from math import cos, pi

import pytest
from scipy.integrate import quad
from scipy.spatial.transform import Rotation
from shapely import box
from shapely.affinity import rotate

from jobcheck.trade.optics import (
    HOST_MICROFRAME_BYTES,
    MICROFRAMES_PER_S,
    PACKET_BYTES,
    PACKETS_PER_MICROFRAME,
    bytes_per_second,
    exposure_us,
    fastest_hz,
    fits_one_host,
    flicker_us,
    is_mirrored,
    reserved_microframe_bytes,
    ripple_percent,
    seen_extent,
)


def test_exposure_counts_100_us():
    """Linux kernel V4L2 camera control reference."""
    assert exposure_us(157) == 15_700


@pytest.mark.parametrize(("mains", "period"), [(50, 10_000), (60, 8333.333)])
def test_mains_light_flickers_at_twice_the_mains(mains, period):
    assert flicker_us(mains) == pytest.approx(period, abs=0.001)


@pytest.mark.parametrize("mains", [50, 60])
@pytest.mark.parametrize("exposure", [900, 4_100, 8_300, 10_000, 15_700, 33_000, 101_500])
def test_ripple_is_that_of_light_integrated_over_the_exposure(mains, exposure):
    """Light 1 + cos(2 pi F t), integrated numerically for exposures that begin at any time."""
    hertz = 2 * mains
    time = exposure * 1e-6

    def brightness(start):
        light = quad(lambda t: 1 + cos(2 * pi * hertz * t), start, start + time, limit=200)
        return light[0] / time

    pictures = [brightness(n / 200 / hertz) for n in range(200)]
    measured = 100 * (max(pictures) - min(pictures))
    assert ripple_percent(exposure, mains) == pytest.approx(measured, abs=0.03)


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


@pytest.mark.parametrize("aim", ["down", "up"])
def test_directions_against_turned_cameras(aim):
    """All mountings of a camera as turns in space by scipy: the others are mirrored ones.

    The camera's own frame: x to the picture's right, y to its up, z toward the viewer.
    """
    names = {(1, 0): "+x", (0, 1): "+y", (-1, 0): "-x", (0, -1): "-y"}
    tipped = Rotation.from_euler("x", 0 if aim == "down" else 180, degrees=True)
    possible = set()
    for turn in (0, 90, 180, 270):
        mounted = Rotation.from_euler("z", turn, degrees=True) * tipped
        right, up = mounted.apply([[1, 0, 0], [0, 1, 0]]).round().astype(int)
        possible.add((names[tuple(right[:2])], names[tuple(up[:2])]))
    assert len(possible) == 4
    for right, up in product(names.values(), repeat=2):
        on_one_axis = right[1] == up[1]
        mirrored = None if on_one_axis else (right, up) not in possible
        assert is_mirrored(right, up, aim) is mirrored


@pytest.mark.parametrize("body", [(3.9, 4.9), (1.6, 0.8), (7.0, 7.0), (9.0, 1.0)])
@pytest.mark.parametrize("attitude", [0, 12.5, 90, 180, 270])
def test_room_in_the_picture_against_turned_boxes(body, attitude):
    """The box around a part that lies turned by up to 20 degrees, against shapely's."""
    whole = box(-body[0] / 2, -body[1] / 2, body[0] / 2, body[1] / 2)
    turns = [attitude + step / 50 for step in range(-1000, 1001)]
    bounds = [rotate(whole, turn, origin=(0, 0)).bounds for turn in turns]
    widest = max(b[2] - b[0] for b in bounds), max(b[3] - b[1] for b in bounds)
    assert seen_extent(body, attitude, 20) == pytest.approx(widest, abs=1e-5)
    assert seen_extent(body, attitude, 0) == pytest.approx(
        tuple(bounds[1000][i + 2] - bounds[1000][i] for i in (0, 1))
    )


@pytest.mark.parametrize("pixel_format", ["YUYV", "GREY", "NV12"])
@pytest.mark.parametrize("packets", [1, 2, 3])
def test_the_fastest_rate_is_the_last_that_fits(pixel_format, packets):
    """By the same limit of the USB 2.0 specification 5.6, from the other side."""
    fastest = fastest_hz(pixel_format, (1280, 720), packets)
    assert fastest is not None

    def reserved(rate):
        sent = bytes_per_second(pixel_format, (1280, 720), rate)
        assert sent is not None
        return reserved_microframe_bytes(sent)

    assert reserved(fastest) == packets * PACKET_BYTES
    assert reserved(fastest + 1) in (None, (packets + 1) * PACKET_BYTES)
    assert fastest_hz("MJPG", (1280, 720), packets) is None
