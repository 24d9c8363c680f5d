"""The use of values that no placement names, by the machine or by the checks."""

from __future__ import annotations

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.moves import is_entry
from jobcheck.shop.paths import Path
from jobcheck.shop.values import is_absent

_USES: dict[Path, str] = {
    ("shop", "machine"): "the machine is read from another file",
    ("shop", "parts"): "parts are read from other files",
    ("shop", "feeders"): "feeders are read from other files",
    ("shop", "jobs"): "jobs are read from other files",
    ("shop", "bridge"): "the controller's values are read by another map",
    ("shop", "limits"): "findings that rest on this limit come or go",
    ("travel",): "places near the end of the travel may be out of reach",
    ("rest",): "the head waits at another place",
    ("mains_hz",): "exposures are checked against another flicker",
    ("motion", "pick_wait_ms"): "the vacuum has another time to build up at the pick",
    ("motion", "place_wait_ms"): "parts have another time to settle in the paste",
    ("motion", "vent_ms"): "parts have another time to let go of the nozzle",
    ("motion", "picture_wait_ms"): "pictures may be taken before the head is still",
    ("motion",): "moves take another time; faster ones may shift parts on the nozzle",
    ("reject_bin",): "parts that are not found are dropped at another place",
    ("vacuum",): "parts are held with another force",
    ("obstacles",): "moves pass it with another clearance",
    ("home_mark",): "every place is measured from another zero",
    ("cameras", "*", "aim"): "the camera is used for other pictures",
    ("cameras", "*", "position"): "its measurements are off by the difference, if it has not moved",
    ("cameras", "*", "mm_per_pixel"): "shifts that it measures are corrected by another amount",
    ("cameras", "*", "field_mm"): "its scale is checked against another field",
    ("cameras", "*", "calibrated"): "the age of its calibration counts from another day",
    ("cameras", "*", "image"): "pictures are corrected by another angle",
    ("cameras", "*", "device"): "another device may be taken for it",
    ("cameras", "*", "frame_rate_hz"): "pictures come at another rate, exposed for another time",
    ("cameras", "*", "light"): "pictures are lit otherwise where no recognition has its own light",
    ("cameras", "*", "room_light"): "its exposure is checked against the flicker of room lamps",
    ("cameras", "*", "moving_mm_s"): "its pictures may be smeared by another length",
    ("cameras", "*", "reported"): "its controls are checked against other ranges and defaults",
    ("cameras",): "its pictures may be others",
    ("recognitions", "*", "tuned_under"): "the tuning is judged by the new stamp",
    ("recognitions", "*", "tuned"): "events are compared with another day of tuning",
    ("jobs", "*", "run"): "time, stock and depth are computed for another run",
    ("jobs", "*", "placements"): "the list is read otherwise",
    ("jobs", "*", "bill"): "the bill is read otherwise, or asks for other parts",
}
"""A path, `*` for any name -> the consequence of a change there; the longest path counts."""

_NEW = "nothing used it before"


def use(change: Change) -> str | None:
    """Return the consequence of a change that reaches no placement; None where none is known."""
    if change.kind is Kind.ADDED and is_entry(change.path, change.new):
        return _NEW
    if is_absent(change.new) and len(change.path) == 2 and is_entry(change.path, change.old):
        return f"nothing uses {change.path[1]} any more"
    for end in range(len(change.path), 0, -1):
        for pattern in _patterns(change.path[:end]):
            if pattern in _USES:
                return _USES[pattern]
    return None


def _patterns(path: Path) -> tuple[Path, ...]:
    return (path, (path[0], "*", *path[2:])) if len(path) > 1 else (path,)
