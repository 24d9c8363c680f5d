"""What was lost or changed since the record: lint against it, and the kinds that diff names."""

from tests.faults.plant import Fault
from tests.faults.scene import Scene


def _lost(words: str, *edits: tuple[str, object]) -> Fault:
    """A loss of the upward camera's settings, found against the record."""

    def lose(s: Scene) -> None:
        for path, value in edits:
            if value is None:
                s.drop(f"{s.up}.{path}")
            else:
                s.put(f"{s.up}.{path}", value)

    return Fault("camera-settings-lost", words, lose, compares=True)


def _default(s: Scene, control: str) -> None:
    s.put(f"{s.up}.controls.{control}", s.get(f"{s.up}.reported.{control}.default"))


def _diff(kind: str, words: str, edit) -> Fault:
    return Fault(kind, words, edit, is_change=True)


def _rename(s: Scene) -> None:
    """A feeder under another name, all else as it was."""
    path = s.chip().path
    s.put("feeders.f99", s.get(path))
    s.drop(path)


def _exchange(s: Scene) -> None:
    one, other = s.chip(), s.diode()
    s.swap(one.path, other.path)


FAULTS = (
    _lost("a gain lost", ("controls.gain", None)),
    _lost("an exposure lost", ("controls.exposure_time_absolute", None)),
    _lost("automatic exposure came back", ("controls.auto_exposure", 3)),
    _lost("automatic white balance came back", ("controls.white_balance_automatic", 1)),
    _lost("all controls lost", ("controls", None)),
    _lost("a light lost", ("light", None)),
    _lost("a pixel format lost", ("pixel_format", None)),
    Fault(
        "camera-settings-lost",
        "an exposure back at its default",
        lambda s: _default(s, "exposure_time_absolute"),
        compares=True,
    ),
    Fault("camera-settings-lost", "a camera lost", lambda s: s.drop(s.up), compares=True),
    Fault(
        "recorded-value-missing",
        "a recognition's threshold lost",
        lambda s: s.drop(f"recognitions.{min(s.shop.recognitions)}.threshold_grey"),
        compares=True,
    ),
    Fault("recorded-value-missing", "speeds lost", lambda s: s.drop("motion"), compares=True),
    Fault(
        "recorded-value-missing",
        "what the spindle carries lost",
        lambda s: s.drop(f"spindles.{min(s.shop.machine.spindles)}.carries"),
        compares=True,
    ),
    Fault(
        "file-no-longer-named",
        "the jobs' folder gone",
        lambda s: s.drop(f"jobs.{s.job_name}"),
        compares=True,
    ),
    Fault(
        "file-no-longer-named",
        "the feeders' file no longer named",
        lambda s: s.put("shop.feeders", []),
        compares=True,
    ),
    Fault(
        "date-implausible",
        "a pick measured in a year to come",
        lambda s: s.put(f"{s.chip().path}.pick.measured", "2031-03-01"),
    ),
    Fault(
        "date-implausible",
        "a day that went back",
        lambda s: s.change("cameras.head.calibrated.date", lambda day: f"2026{str(day)[4:-2]}01"),
        compares=True,
    ),
    Fault(
        "silencing-faulty",
        "lost camera settings disabled",
        lambda s: s.put("shop.disabled", {"camera-settings-lost": "the camera is fine"}),
    ),
    Fault(
        "silencing-faulty",
        "a rule disabled under its old name",
        lambda s: s.put("shop.disabled", {"copies-apart": "two jigs"}),
    ),
    Fault(
        "controller-differs",
        "the controller's own file says another gain",
        controller=lambda s: {("cameras", "up", "controls", "gain"): 99},
    ),
    _diff("lost", "a control lost", lambda s: s.drop(f"{s.up}.controls.gain")),
    _diff("fell back", "a control at its default", lambda s: _default(s, "gain")),
    _diff(
        "automatic on",
        "an automatic switched on",
        lambda s: s.put(f"{s.up}.controls.auto_exposure", 0),
    ),
    _diff("moved", "a feeder in another slot", lambda s: s.put(f"{s.chip().path}.slot", 9)),
    _diff("moved", "a feeder under another name", _rename),
    _diff("exchanged", "two feeders exchanged", _exchange),
    _diff(
        "half a turn",
        "a pick turned by half",
        lambda s: s.change(f"{s.chip().path}.pick.rotation", lambda r: (r + 360) % 360 - 180),
    ),
    _diff(
        "a quarter turn",
        "a placement turned by a quarter",
        lambda s: s.add(f"{s.placed(s.chip().references[0])}.rotation", 90),
    ),
    _diff("mirrored", "a picture flipped", lambda s: s.put(f"{s.up}.image.up", "+y")),
    _diff(
        "mirrored",
        "a placement on the other side of its board",
        lambda s: s.change(
            f"{s.placed(s.chip().references[0])}.x", lambda x: round(s.board[0] - x, 4)
        ),
    ),
    _diff(
        "scaled",
        "a height in inches",
        lambda s: s.change(f"{s.large().outline_path}.height_mm", lambda h: round(h / 25.4, 5)),
    ),
    _diff(
        "changed",
        "a threshold tuned",
        lambda s: s.add(f"{s.recognition(s.chip())}.threshold_grey", 3),
    ),
    _diff(
        "added",
        "an obstacle added",
        lambda s: s.put("obstacles.post", {"x": [1, 2], "y": [1, 2], "top_z": -9}),
    ),
    _diff("removed", "a feeder taken away", lambda s: s.drop(s.chip().path)),
)
