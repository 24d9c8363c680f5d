"""Rules that were renamed, merged or dropped: an old name is answered with the new one."""

RENAMED: dict[str, str] = {
    # shop
    "acceptance-run-out": "acceptance-expired",
    "copies-apart": "copied-value-differs",
    "pattern-brings-nothing": "pattern-matches-nothing",
    "rule-unknown": "silencing-without-effect",
    # cameras
    # parts
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
}
"""Old name -> new name; empty where the rule was dropped."""
