"""Small pictures that are kept and compared; `python -m tests.pages` draws them anew."""

from datetime import date
from pathlib import Path as FilePath

from jobcheck.commands import picture as gather
from jobcheck.reports.calls import Call
from jobcheck.reports.pages import pictures
from tests.golden.play import EXAMPLES
from tests.support.edited import STARTER

HERE = FilePath(__file__).parent / "golden"
DAY = date(2026, 11, 25)


def kept_pictures() -> dict[str, str]:
    """Return the pictures by the names of their files; the README shows the lost camera."""
    drifted = EXAMPLES / "soil-logger-drifted"
    board = gather.board_picture(STARTER, "first-board", DAY)
    return {
        "board.svg": pictures.board(board, Call()).svg(),
        "part.svg": pictures.part(gather.part_picture(drifted, "soil-logger", "D1")).svg(),
        "lost-camera.svg": pictures.cameras(gather.cameras_picture(drifted, "up")).svg(),
    }
