"""Writes all transcripts anew."""

import tempfile
from pathlib import Path as FilePath

from tests.golden.play import play, transcripts

for path in transcripts():
    with tempfile.TemporaryDirectory() as folder:
        path.write_text(play(path.read_text(encoding="utf-8"), FilePath(folder)), encoding="utf-8")
