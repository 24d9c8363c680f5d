"""What a camera sees and sends: field, pixels, exposure, flicker, blur, bytes."""

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from jobcheck.trade.bodies import extent
from jobcheck.trade.plane import Point

EXPOSURE_UNIT_US = 100.0
"""Unit of `exposure_time_absolute`. Source: Linux kernel V4L2 camera control reference."""

BYTES_PER_PIXEL: Mapping[str, float] = MappingProxyType(
    {
        "YUYV": 2.0,
        "UYVY": 2.0,
        "YVYU": 2.0,
        "VYUY": 2.0,
        "NV12": 1.5,
        "NV21": 1.5,
        "YU12": 1.5,
        "YV12": 1.5,
        "GREY": 1.0,
        "Y10 ": 2.0,
        "Y12 ": 2.0,
        "Y16 ": 2.0,
        "BA81": 1.0,
        "GBRG": 1.0,
        "GRBG": 1.0,
        "RGGB": 1.0,
        "RGBP": 2.0,
        "RGB3": 3.0,
        "BGR3": 3.0,
    }
)
"""Bytes per pixel by V4L2 four-character code; compressed formats are not in it.

Source: Linux kernel V4L2 image formats, from memory.
"""

MICROFRAMES_PER_S = 8000
"""High-speed microframes. Source: USB 2.0 specification 5.9, from memory."""

PACKET_BYTES = 1024
"""Largest high-speed isochronous packet, three at most in a microframe of one endpoint.

Source: USB 2.0 specification 5.6, from memory.
"""

PACKETS_PER_MICROFRAME = 3
"""Source: USB 2.0 specification 5.6, from memory."""

HOST_MICROFRAME_BYTES = 6000
"""What periodic transfers of one host may take of a microframe: 80 % of about 7500 bytes.

Source: USB 2.0 specification 5.6, from memory.
"""

PAYLOAD_HEADER_BYTES = 12
"""Longest header of a video payload. Source: USB Video Class 1.1, 2.4.3.3, from memory."""


def field_of_view(resolution_px: tuple[int, int], mm_per_pixel: Point) -> Point:
    """Width and height that the picture shows, mm, at the height of the scale.

    Source: arithmetic.
    """
    return resolution_px[0] * mm_per_pixel[0], resolution_px[1] * mm_per_pixel[1]


def seen_extent(body_mm: Point, attitude: float, turned_by: float) -> Point:
    """Width and height of the upright box around a part that may be turned either way, mm.

    Each is the largest on its own; degrees. Source: a rectangle's box is widest where its
    diagonal is along the axis, arithmetic.
    """
    diagonal = math.degrees(math.atan2(body_mm[1], body_mm[0]))
    low, high = attitude - turned_by, attitude + turned_by
    turns = [low, high]
    for widest in (diagonal, -diagonal, 90 + diagonal, 90 - diagonal):
        turns += [low + (widest - low) % 180.0] if (widest - low) % 180.0 <= high - low else []
    boxes = [extent(body_mm[0], body_mm[1], turn) for turn in turns]
    return max(box[0] for box in boxes), max(box[1] for box in boxes)


def pixels_across(size_mm: float, mm_per_pixel: float) -> float:
    """Pixels that a feature covers; two to three are the least that a feature needs.

    Source: arithmetic; two to three pixels, machine-vision handbooks.
    """
    return size_mm / mm_per_pixel


def views_needed(seen_mm: Point, field_mm: Point, margin_mm: float = 0.0) -> int:
    """How many pictures cover an upright box with a margin all round it; at least 1.

    Raises `ValueError` on a field without size. Source: arithmetic, pictures side by side.
    """
    if min(field_mm) <= 0.0:
        raise ValueError("a field of view has a size above 0")
    columns, rows = (
        math.ceil(min((size + 2 * margin_mm) / field - 1e-9, 1e6))  # more are never taken
        for size, field in zip(seen_mm, field_mm, strict=True)
    )
    return max(1, columns) * max(1, rows)


MACHINE_AXES: Mapping[str, Point] = MappingProxyType(
    {"+x": (1.0, 0.0), "+y": (0.0, 1.0), "-x": (-1.0, 0.0), "-y": (0.0, -1.0)}
)
"""Directions in the machine frame by their names."""


def is_mirrored(right: str, up: str, aim: str) -> bool | None:
    """Whether a picture with these machine directions is a mirrored one.

    None if both are on one axis. A picture's right, its up and the way toward the viewer are
    a right-handed set unless it is mirrored; the viewer is above for a camera that aims down and
    below for one that aims up. Source: right-hand rule of a Cartesian frame (ISO 841).
    """
    (right_x, right_y), (up_x, up_y) = MACHINE_AXES[right], MACHINE_AXES[up]
    toward_z = right_x * up_y - right_y * up_x
    if toward_z == 0.0:
        return None
    return (toward_z > 0) != (aim == "down")


def exposure_us(units: float) -> float:
    """`exposure_time_absolute` in microseconds: units of 100 us.

    Source: Linux kernel V4L2 camera control reference.
    """
    return units * EXPOSURE_UNIT_US


def flicker_us(mains_hz: float) -> float:
    """Period of mains light: half of the mains period, microseconds.

    Source: common practice, no published source.
    """
    return 1e6 / (2 * mains_hz)


def ripple_percent(exposure: float, mains_hz: float) -> float:
    """Greatest change of a picture's brightness under mains light, percent of its mean.

    `exposure` is in microseconds. The light is taken as 1 + cos(2 pi F t), dark once a period, with
    F twice the mains frequency; over an exposure T its integral changes by 2 |sin(pi F T)| /
    (pi F T) of the mean, peak to peak. Source: arithmetic; F as `flicker_us`.
    """
    phase = math.pi * exposure / flicker_us(mains_hz)
    return 200 * abs(math.sin(phase)) / phase if phase else 200.0


def frame_interval_us(frame_rate_hz: float) -> float:
    """Time between two frames, microseconds. Source: arithmetic."""
    return 1e6 / frame_rate_hz


def exposure_fits_frame(exposure: float, frame_rate_hz: float) -> bool:
    """Return whether an exposure in microseconds ends before the next frame begins.

    Source: arithmetic; a longer one lowers the rate (Linux kernel V4L2 camera control
    reference, `exposure_dynamic_framerate`).
    """
    return exposure <= frame_interval_us(frame_rate_hz)


def blur_px(speed_mm_s: float, exposure: float, mm_per_pixel: float) -> float:
    """Pixels by which a moving picture is blurred, exposure in microseconds.

    Source: arithmetic.
    """
    return speed_mm_s * exposure * 1e-6 / mm_per_pixel


def bytes_per_second(
    pixel_format: str, resolution_px: tuple[int, int], frame_rate_hz: float
) -> float | None:
    """Bytes of picture a second; None for a compressed or unknown format.

    A code shorter than four characters is filled with spaces, as V4L2 writes it.
    Source: `BYTES_PER_PIXEL`.
    """
    size = BYTES_PER_PIXEL.get(pixel_format.ljust(4))
    if size is None:
        return None
    return size * resolution_px[0] * resolution_px[1] * frame_rate_hz


def needed_microframe_bytes(bytes_a_second: float) -> int:
    """Bytes of each microframe that a stream fills, with a header for each packet.

    Source: USB 2.0 specification 5.6 and USB Video Class 1.1, 2.4.3.3, from memory.
    """
    picture = math.ceil(min(bytes_a_second, 1e18) / MICROFRAMES_PER_S)  # no stream has more
    packets = math.ceil(picture / (PACKET_BYTES - PAYLOAD_HEADER_BYTES))
    return picture + packets * PAYLOAD_HEADER_BYTES


def reserved_microframe_bytes(bytes_a_second: float) -> int | None:
    """Bytes of each microframe that a camera reserves for a stream: whole packets.

    Pessimistic: a camera may offer smaller steps. None where no endpoint carries the stream.
    Source: as `needed_microframe_bytes`.
    """
    packets = math.ceil(needed_microframe_bytes(bytes_a_second) / PACKET_BYTES)
    return packets * PACKET_BYTES if packets <= PACKETS_PER_MICROFRAME else None


def fastest_hz(pixel_format: str, resolution_px: tuple[int, int], packets: int) -> int | None:
    """Highest whole frame rate whose stream fits so many packets a microframe; 0 where none does.

    None for a compressed or unknown format. Source: as `needed_microframe_bytes`.
    """
    frame = bytes_per_second(pixel_format, resolution_px, 1.0)
    if frame is None:
        return None
    return int(packets * (PACKET_BYTES - PAYLOAD_HEADER_BYTES) * MICROFRAMES_PER_S / frame)


def fits_one_host(microframe_bytes: Iterable[int]) -> bool:
    """Whether streams that need or reserve so much fit one USB 2.0 host together.

    Source: USB 2.0 specification 5.6, from memory.
    """
    return sum(microframe_bytes) <= HOST_MICROFRAME_BYTES
