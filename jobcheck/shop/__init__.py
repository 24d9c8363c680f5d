"""One shop as it was read: plain values, paths to them, places in the files."""
