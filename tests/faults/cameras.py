"""Faults of cameras, their controls, their pictures, USB, recognitions and what they resolve."""

from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _reset(s: Scene) -> None:
    """The controls of the upward camera as they are after power-up."""
    reported = s.get(f"{s.up}.reported")
    for control in s.get(f"{s.up}.controls"):
        if control in reported:
            s.put(f"{s.up}.controls.{control}", reported[control]["default"])


def _two_alike(s: Scene) -> None:
    """Two cameras of one model, neither with a serial nor a port."""
    for camera in (s.head, s.up):
        s.put(f"{camera}.device", {"usb_id": "fff0:0002"})
    _restamp(s)


def _restamp(s: Scene) -> None:
    """Remove the stamps: then nothing is stale by what is planted into the camera."""
    for name in s.get("recognitions"):
        s.drop(f"recognitions.{name}.tuned_under")


def _retuned(s: Scene, path: str, value: object) -> None:
    """A setting of the upward camera that was changed, everything tuned under it anew."""
    from jobcheck.facts.fingerprint import tuning_fingerprint
    from jobcheck.schema.machine import Camera
    from jobcheck.schema.parts import Recognition

    s.put(f"{s.up}.{path}", value)
    camera = Camera.model_validate(s.get(s.up))
    for name, described in s.get("recognitions").items():
        stamp = tuning_fingerprint(camera, Recognition.model_validate(described))
        s.put(f"recognitions.{name}.tuned_under", stamp)


def _narrow_field(s: Scene) -> None:
    s.put(f"{s.up}.field_mm", [9.6, 5.4])
    _retuned(s, "mm_per_pixel", {"x": 0.0075, "y": 0.0075, "at_z": -20.1})


def _ten_times(s: Scene, camera: str) -> None:
    s.change(f"{camera}.mm_per_pixel.x", lambda v: round(v * 10, 4))
    s.change(f"{camera}.mm_per_pixel.y", lambda v: round(v * 10, 4))


def _a_tenth(s: Scene, camera: str) -> None:
    s.change(f"{camera}.mm_per_pixel.x", lambda v: round(v / 10, 5))
    s.change(f"{camera}.mm_per_pixel.y", lambda v: round(v / 10, 5))


def _one_host(s: Scene) -> None:
    _retuned(s, "device.host", "usb1")
    s.put(f"{s.head}.device.host", "usb1")
    s.put(f"{s.head}.device.port", "1-1.8")


FAULTS = (
    # in their roles
    Fault(
        "camera-missing",
        "no camera looks down",
        lambda s: (s.drop(s.head), s.drop("home_mark")),
    ),
    Fault(
        "camera-device-ambiguous",
        "two cameras on one port",
        lambda s: s.copy_to(f"{s.head}.device", f"{s.up}.device"),
    ),
    Fault("camera-device-ambiguous", "two alike without serials", _two_alike),
    Fault(
        "camera-calibration-outdated",
        "calibrated at another resolution",
        lambda s: s.put(f"{s.up}.calibrated.resolution_px", [640, 360]),
    ),
    Fault(
        "camera-scale-contradicted",
        "one scale mistyped",
        lambda s: s.change(f"{s.head}.mm_per_pixel.y", lambda v: round(v * 1.06, 4)),
    ),
    Fault(
        "camera-scale-contradicted",
        "a field of another lens",
        lambda s: s.put(f"{s.head}.field_mm", [40.0, 22.5]),
    ),
    Fault(
        "camera-scale-contradicted",
        "a scale ten times too large, camera of the head",
        lambda s: _ten_times(s, s.head),
        compares=True,
    ),
    Fault(
        "camera-scale-contradicted",
        "a scale ten times too large, camera below",
        lambda s: _ten_times(s, s.up),
        compares=True,
    ),
    Fault(
        "part-exceeds-field",
        "a scale ten times too small without a record or a field",
        lambda s: (s.get(s.up).get("field_mm") and s.drop(f"{s.up}.field_mm"), _a_tenth(s, s.up)),
    ),
    Fault(
        "camera-calibration-outdated",
        "calibrated before it was knocked",
        lambda s: s.put(
            "events.knock", {"date": "2026-10-10", "touched": [s.head], "note": "knocked"}
        ),
    ),
    Fault(
        "camera-calibration-outdated",
        "calibrated a year ago",
        lambda s: s.put(f"{s.head}.calibrated.date", "2025-10-10"),
    ),
    # controls
    Fault("camera-controls-at-default", "a camera reset to its defaults", _reset),
    Fault(
        "camera-automatic-on",
        "automatic exposure on",
        lambda s: s.put(f"{s.head}.controls.auto_exposure", 3),
    ),
    Fault(
        "camera-automatic-on",
        "automatic white balance on",
        lambda s: s.put(f"{s.head}.controls.white_balance_automatic", 1),
    ),
    Fault(
        "camera-automatic-on",
        "automatic gain on",
        lambda s: s.put(f"{s.head}.controls.gain_automatic", 1),
    ),
    Fault(
        "camera-automatic-on",
        "continuous focus on",
        lambda s: s.put(f"{s.head}.controls.focus_automatic_continuous", 1),
    ),
    Fault(
        "camera-automatic-on",
        "a variable frame rate",
        lambda s: s.put(f"{s.head}.controls.exposure_dynamic_framerate", 1),
    ),
    Fault("camera-controls-missing", "controls gone", lambda s: s.drop(f"{s.head}.controls")),
    Fault(
        "camera-control-impossible",
        "gain above the device's range",
        lambda s: s.put(f"{s.head}.controls.gain", 900),
    ),
    Fault(
        "camera-control-impossible",
        "white balance off the device's step",
        lambda s: s.puts(
            {
                f"{s.head}.reported.white_balance_temperature.step": 10,
                f"{s.head}.controls.white_balance_temperature": 4503,
            }
        ),
    ),
    Fault(
        "camera-control-impossible",
        "exposure longer than a frame",
        lambda s: s.put(f"{s.head}.controls.exposure_time_absolute", 1500),
    ),
    # pictures
    Fault(
        "image-directions-wrong",
        "right and up along one axis",
        lambda s: s.put(f"{s.head}.image.up", "-x"),
    ),
    Fault(
        "image-directions-wrong",
        "a picture from above that is mirrored",
        lambda s: s.put(f"{s.head}.image.up", "-y"),
    ),
    Fault(
        "image-directions-wrong",
        "a picture from below that is not mirrored",
        lambda s: _retuned(s, "image.up", "+y"),
    ),
    Fault(
        "image-directions-wrong",
        "a camera mounted a quarter turn on",
        lambda s: s.put(f"{s.head}.image.turn_deg", 90.3),
    ),
    Fault(
        "picture-flickers",
        "room light and an exposure beside its flicker",
        lambda s: s.puts(
            {f"{s.head}.room_light": True, f"{s.head}.controls.exposure_time_absolute": 157}
        ),
    ),
    Fault(
        "picture-in-motion",
        "pictures before the next frame has come",
        lambda s: s.put("motion.picture_wait_ms", 40),
    ),
    Fault(
        "picture-in-motion",
        "pictures in motion with a long exposure",
        lambda s: s.put(f"{s.up}.moving_mm_s", 20),
    ),
    # usb
    Fault(
        "usb-bandwidth-exceeded",
        "more pictures than USB carries",
        lambda s: s.put(f"{s.head}.frame_rate_hz", 30),
    ),
    Fault("usb-bandwidth-exceeded", "both cameras on one host", _one_host),
    # recognitions
    Fault(
        "camera-missing",
        "parts looked at by the downward camera",
        lambda s: s.put(f"{s.recognition(s.diode())}.camera", s.head.split(".")[1]),
    ),
    Fault(
        "recognition-light-missing",
        "a light that no camera has",
        lambda s: s.put(f"{s.recognition(s.diode())}.light_channel", "ring-upp"),
    ),
    Fault(
        "recognition-tuning-stale",
        "gain changed after tuning",
        lambda s: s.add(f"{s.up}.controls.gain", 1),
    ),
    Fault(
        "recognition-tuning-stale",
        "pixel format changed after tuning",
        lambda s: s.put(f"{s.up}.pixel_format", "GREY"),
    ),
    Fault(
        "recognition-tuning-stale",
        "gain changed since the record",
        lambda s: s.add(f"{s.up}.controls.gain", 1),
        compares=True,
    ),
    Fault(
        "recognition-tuning-stale",
        "new lamps after tuning",
        lambda s: s.put(
            "events.lamps", {"date": "2026-10-10", "touched": [f"{s.up}.light"], "note": "new"}
        ),
    ),
    Fault(
        "recognition-tuning-stale",
        "light changed for one recognition",
        lambda s: s.add(f"{s.recognition(s.diode())}.light_percent", 7),
    ),
    Fault(
        "recognition-tuning-stale",
        "a recognition that nobody stamped",
        lambda s: s.drop(f"{s.recognition(s.diode())}.tuned_under"),
    ),
    Fault(
        "recognition-size-contradicts-outline",
        "expected size of another part",
        lambda s: s.put(f"{s.recognition(s.large())}.expect_mm", [3.0, 2.0]),
    ),
    Fault(
        "light-or-threshold-at-limit",
        "a threshold above white",
        lambda s: s.put(f"{s.recognition(s.diode())}.threshold_grey", 300),
    ),
    Fault(
        "light-or-threshold-at-limit",
        "a threshold at black",
        lambda s: s.put(f"{s.recognition(s.diode())}.threshold_grey", 0),
    ),
    Fault(
        "recognition-too-tolerant",
        "a tolerance ten times too large",
        lambda s: s.put(f"{s.recognition(s.diode())}.tolerance_mm", 3.0),
    ),
    Fault(
        "light-or-threshold-at-limit",
        "a light that was switched off",
        lambda s: s.put(f"{s.head}.light.percent", 0),
    ),
    Fault(
        "light-or-threshold-at-limit",
        "a light at its greatest",
        lambda s: s.put(f"{s.head}.light.percent", 100),
    ),
    # what is resolved
    Fault(
        "part-exceeds-field",
        "a picture too small for the largest part",
        _narrow_field,
    ),
    Fault(
        "picture-too-coarse",
        "a tolerance of few pixels",
        lambda s: s.put(f"{s.recognition(s.diode())}.tolerance_mm", 0.03),
    ),
    Fault(
        "picture-too-coarse",
        "a terminal of few pixels",
        lambda s: s.put(f"{s.chip_of_pins().outline_path}.terminal_mm", 0.03),
    ),
    Fault(
        "picture-too-coarse",
        "a fiducial of few pixels",
        lambda s: s.put("home_mark.diameter_mm", 0.15),
    ),
    Fault(
        "search-beyond-field",
        "a search wider than the picture",
        lambda s: s.put("home_mark.search_radius_mm", 9.0),
    ),
    Fault(
        "scale-at-other-height",
        "scale measured above the board",
        lambda s: s.put(f"{s.head}.mm_per_pixel.at_z", -17.5),
    ),
)
