"""What is not understood is a fault of its file; no rule says anything of what hangs on it."""

from collections.abc import Iterator

import pytest

from jobcheck.shop.paths import show
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import damaged, linted, starter

FILES = ("placer.yaml", "parts.yaml", "feeders.yaml", "jobs/first-board/job.yaml")
LISTS = ("jobs/first-board/placements.csv", "jobs/first-board/bill.csv")


@pytest.mark.parametrize("broken", [*FILES, *LISTS])
def test_a_file_that_is_not_understood_brings_no_finding(broken: str) -> None:
    files = {**dict(starter().state.files), broken: b"describes: [\n"}
    reading = read_shop(State("damaged", HeldFiles(files), "damaged"))
    assert reading.faults
    assert [(found.rule, found.message) for found in linted(reading).findings] == []


# A job that is gone is no fault: the pattern just matches no file.
@pytest.mark.parametrize("gone", [*FILES[:-1], *LISTS])
def test_a_file_that_is_not_there_brings_no_finding(gone: str) -> None:
    files = {name: data for name, data in starter().state.files.items() if name != gone}
    reading = read_shop(State("damaged", HeldFiles(files), "damaged"))
    assert reading.faults
    assert [(found.rule, found.message) for found in linted(reading).findings] == []


def _entries() -> Iterator[str]:
    """Yield every entry of the starter shop that stands for itself: edits that end in its path."""
    shop = starter().shop
    assert shop
    keyed = ("cameras", "spindles", "nozzles", "rack", "feeder_rows", "events")
    for collection in (*keyed, "outlines", "recognitions", "parts", "feeders"):
        entries = shop.plain_at((collection,))
        assert isinstance(entries, dict)
        yield from (show((collection, key)) for key in entries)
    for listed in ("placements", "bill"):
        inline = f"jobs.first-board.{listed}"
        yield f"{inline}.file: ~\n{inline}.R1"


@pytest.mark.parametrize("entry", list(_entries()))
def test_an_entry_that_is_not_understood_brings_no_finding(entry: str) -> None:
    reading = damaged(f"{entry}.unheard_of: 1")
    assert [(found.rule, found.message) for found in linted(reading).findings] == []


@pytest.mark.parametrize(
    "block",
    [
        *("traverse_z", "travel", "rest", "motion", "home_mark", "reject_bin", "vacuum"),
        *("jobs.first-board.board", "jobs.first-board.seat", "jobs.first-board.run"),
    ],
)
def test_a_block_that_is_not_understood_brings_no_finding(block: str) -> None:
    reading = damaged(f"{block}: nonsense")
    assert [(found.rule, found.message) for found in linted(reading).findings] == []
