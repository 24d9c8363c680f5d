"""Rules about the bandwidth that cameras need of USB."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from math import ceil
from typing import NamedTuple

from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Camera
from jobcheck.shop.paths import natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.optics import (
    HOST_MICROFRAME_BYTES,
    PACKET_BYTES,
    PACKETS_PER_MICROFRAME,
    bytes_per_second,
    fastest_hz,
    fits_one_host,
    needed_microframe_bytes,
    reserved_microframe_bytes,
)
from jobcheck.wording import count, listed, number


class _Stream(NamedTuple):
    """A camera's uncompressed stream over USB 2; `reserved` is None if no endpoint carries it.

    `rate` is bytes of picture a second, `reserved` bytes of each microframe.
    """

    name: str
    camera: Camera
    pixel_format: str
    resolution_px: tuple[int, int]
    frame_rate_hz: float
    rate: float
    reserved: int | None

    @property
    def shown(self) -> str:
        """The stream in words: `YUYV 1280 × 720 at 10 Hz`."""
        columns, rows = self.resolution_px
        return f"{self.pixel_format} {columns} × {rows} at {number(self.frame_rate_hz)} Hz"

    def fastest(self, packets: int) -> int:
        """The highest whole frame rate that so many packets carry, Hz."""
        return fastest_hz(self.pixel_format, self.resolution_px, packets) or 0


def _streams(shop: Shop) -> Iterator[_Stream]:
    """Yield the streams that are known: uncompressed, at a known rate, not over USB 3."""
    for name in sorted(shop.cameras, key=natural):
        camera = shop.cameras[name]
        if not _is_uncompressed(shop, name) or not (
            camera.pixel_format and camera.resolution_px and camera.frame_rate_hz
        ):
            continue
        size = camera.resolution_px[0], camera.resolution_px[1]
        rate = bytes_per_second(camera.pixel_format, size, camera.frame_rate_hz)
        if rate is not None:
            yield _Stream(
                name,
                camera,
                camera.pixel_format,
                size,
                camera.frame_rate_hz,
                rate,
                reserved_microframe_bytes(rate),
            )


@rule(
    Level.WARNING,
    fails="cameras.head.frame_rate_hz: 14",
    passes="cameras.head.frame_rate_hz: 13\ncameras.head.device.host: usb2\n"
    'cameras.head.device.port: "2-1.1"',
)
def usb_bandwidth_exceeded(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A camera needs more bandwidth than USB 2 carries, or the cameras of one host do.

    USB 2 is assumed unless `device.usb_speed` is super, and isochronous transfer; for a host also
    that all its cameras are open at once and each reserves whole packets. Compressed formats and
    cameras of unknown resolution or rate count as nothing.

    On the machine: a camera may send fewer pictures than described, broken ones, or not open.

    To do: lower the frame rate or the resolution, use another host, or USB 3 and write so.

    Source: 3 × 1024 bytes in a microframe for an endpoint; 80 % of a microframe, about 6000 bytes,
    for periodic transfers of a host: USB 2.0 specification 5.6 (from memory). YUYV has 2 bytes a
    pixel, Linux kernel V4L2 image formats.
    """
    hosts: dict[str, list[_Stream]] = defaultdict(list)
    for stream in _streams(look.shop):
        host = stream.camera.device.host if stream.camera.device else None
        if stream.reserved is None:
            yield _too_fast(stream)
        elif host is not None:
            hosts[host].append(stream)
    yield from _unknown(look.shop)
    for host, streams in hosts.items():
        if not fits_one_host(stream.reserved or 0 for stream in streams):
            yield _too_many(host, streams)


def _unknown(shop: Shop) -> Iterator[Unchecked]:
    """Yield what could not be compared: uncompressed streams without a rate or without a host."""
    slow = [name for name in sorted(shop.cameras, key=natural) if _is_uncompressed(shop, name)]
    rates = [("cameras", name, "frame_rate_hz") for name in slow]
    hosts = [("cameras", name, "device", "host") for name in slow]
    for key, paths in (("frame_rate_hz", rates), ("host", hosts if len(slow) > 1 else [])):
        missing = [path for path in paths if shop.plain_at(path) is None]
        if missing:
            yield Unchecked(
                f"USB bandwidth of {count(len(missing), 'camera')}",
                f"no {'.'.join(missing[0][2:])} on {listed([show(path[:2]) for path in missing])}",
                key,
                tuple(missing),
                len(missing),
            )


def _is_uncompressed(shop: Shop, name: str) -> bool:
    """Return whether a camera is known to send an uncompressed stream and not over USB 3."""
    camera = shop.cameras[name]
    is_fast = camera.device is not None and camera.device.usb_speed == "super"
    if is_fast or not (camera.pixel_format and camera.resolution_px):
        return False
    return bytes_per_second(camera.pixel_format, (1, 1), 1.0) is not None


def _too_fast(stream: _Stream) -> Problem:
    most = PACKETS_PER_MICROFRAME * PACKET_BYTES
    fastest = stream.fastest(PACKETS_PER_MICROFRAME)
    at = ("cameras", stream.name)
    needed = needed_microframe_bytes(stream.rate)
    return Problem(
        path=(*at, "frame_rate_hz"),
        related=((*at, "resolution_px"), (*at, "pixel_format")),
        message=f"camera {stream.name} sends {stream.rate / 1e6:.1f} MB/s; one USB 2 endpoint "
        "carries 24.6 MB/s.",
        observed=f"{stream.shown}: {needed:,} of {most:,} bytes in a microframe; USB 2 assumed",
        consequence="It may send fewer pictures than described, or not open.",
        remedy=(
            (f"Lower frame_rate_hz to {fastest}" if fastest else "Lower the resolution")
            + ", or use USB 3 and write usb_speed: super.",
        ),
    )


def _too_many(host: str, streams: list[_Stream]) -> Problem:
    names = [stream.name for stream in streams]
    total = sum(stream.reserved or 0 for stream in streams)
    shown = [f"{stream.name} {stream.shown} {stream.reserved:,}" for stream in streams]
    return Problem(
        path=("cameras", names[0], "frame_rate_hz"),
        related=(
            *(("cameras", name, "frame_rate_hz") for name in names[1:]),
            *(("cameras", name, "device", "host") for name in names),
        ),
        message=f"cameras {joined(names)} reserve {total:,} bytes of each microframe of host "
        f"{host}, which has {HOST_MICROFRAME_BYTES:,}.",
        observed=f"{listed(shown, 4)}; USB 2 and all open at once assumed",
        consequence="The camera that is opened last may not open, or pictures may be broken.",
        remedy=(f"{_fitting(streams, total)}, or use another host for one.",),
    )


def _fitting(streams: list[_Stream], total: int) -> str:
    """Return a sentence with the one frame rate that makes all streams fit."""
    over = ceil((total - HOST_MICROFRAME_BYTES) / PACKET_BYTES)
    for stream in sorted(streams, key=lambda entry: -(entry.reserved or 0)):
        packets = (stream.reserved or 0) // PACKET_BYTES - over
        fastest = stream.fastest(packets) if packets > 0 else 0
        if fastest:
            rest = [entry.name for entry in streams if entry is not stream]
            return (
                f"Run {stream.name} at {fastest} Hz; with {joined(rest)} as described that is "
                f"{total - over * PACKET_BYTES:,} bytes"
            )
    return "Lower several frame rates or resolutions"
