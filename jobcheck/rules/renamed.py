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
    # fiducials
    # motion
}
"""Old name -> new name; empty where the rule was dropped."""
