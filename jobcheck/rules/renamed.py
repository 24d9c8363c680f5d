"""Rules that were renamed or merged: an old name in `disabled` or `accepted` is answered with it."""

RENAMED: dict[str, str] = {
    # shop
    # cameras
    # parts
    # feeders
    # boards
    # polarity
    # fiducials
    # motion
}
"""Old name -> new name."""
