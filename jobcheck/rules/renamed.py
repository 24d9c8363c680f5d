"""Rules that were renamed, merged or dropped: an old name is answered with the new one."""

RENAMED: dict[str, str] = {
    # shop
    "acceptance-run-out": "acceptance-expired",
    "copies-apart": "copied-value-differs",
    "pattern-brings-nothing": "pattern-matches-nothing",
    "rule-unknown": "silencing-without-effect",
    # cameras
    "recognition-never-stamped": "recognition-tuning-stale",
    # parts
    "height-missing": "height-unknown",
    "height-zero": "height-unknown",
    "tip-wider-than-body": "tip-too-wide",
    "tip-shows-beyond-body": "tip-too-wide",
    "vacuum-thresholds-not-apart": "nozzle-pressures-contradict",
    "vacuum-threshold-out-of-reach": "nozzle-pressures-contradict",
    "pressure-below-vacuum": "nozzle-pressures-contradict",
    "rack-places-coincide": "fixtures-overlap",
    # feeders
    # boards
    # polarity
    "pick-rotation-half-turn": "pick-rotation-wrong",
    "pick-rotation-quarter-turn": "pick-rotation-wrong",
    "pick-rotation-off": "pick-rotation-wrong",
    "pick-rotation-outdated": "pick-rotation-wrong",
    "feeder-moved-across-rows": "pick-rotation-wrong",
    "reel-orientation-unseen": "reel-not-looked-at",
    "list-zero-contradicts-pads": "list-turned-from-pads",
    "bottom-convention-contradicts-pads": "list-turned-from-pads",
    # fiducials
    # motion
    "obstacle-in-traverse": "traverse-too-low",
    "carried-part-strikes-fixture": "traverse-too-low",
    "height-outside-travel": "outside-travel",
    "place-outside-travel": "outside-travel",
    "obstacle-outside-travel": "outside-travel",
    "panel-outside-travel": "job-out-of-reach",
    "placement-out-of-reach": "job-out-of-reach",
    "fiducial-out-of-reach": "job-out-of-reach",
    "reject-bin-over-board": "fixtures-overlap",
    "approach-states-axis-twice": "approach-from-both-sides",
    "nozzle-changes-many": "",
    "bag-opening-unknown": "run-exceeds-floor-life",
}
"""Old name -> new name; empty where the rule was dropped."""
