"""Reading a shop after another one: only what has other bytes is read, and nothing old stays."""

from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.generate import Size, make_files

JOB = "jobs/board-1/job.yaml"
LIST = "jobs/board-1/placements.csv"


def _state(files):
    return State("now", HeldFiles(files), "shop")


def _both(changed):
    """The changed files, read after the unchanged ones and read alone."""
    before = read_shop(_state(make_files(3, Size(placements=8, parts=4))))
    return read_shop(_state(changed), like=before), read_shop(_state(changed))


def test_a_row_that_left_the_list_leaves_no_placement():
    files = make_files(3, Size(placements=8, parts=4))
    rows = files[LIST].splitlines(keepends=True)
    files[LIST] = b"".join(rows[:-1])
    after, alone = _both(files)
    assert len(after.shop.jobs["board-1"].placements.by_reference) == 7
    assert after.shop == alone.shop


def test_a_list_that_is_gone_leaves_no_placement():
    files = make_files(3, Size(placements=8, parts=4))
    del files[LIST]
    after, alone = _both(files)
    assert (after.shop, after.faults) == (alone.shop, alone.faults)


def test_a_fault_in_a_list_is_told_once():
    files = make_files(3, Size(placements=8, parts=4))
    files[LIST] = files[LIST].replace(b",top", b",inside").replace(b",bottom", b",inside")
    before = read_shop(_state(files))
    assert before.faults
    assert read_shop(_state(files), like=before).faults == before.faults


def test_unchanged_files_are_not_read_again():
    files = make_files(3, Size(placements=8, parts=4))
    before = read_shop(_state(files))
    after = read_shop(_state(files), like=before)
    assert all(after.places.held[name] is held for name, held in before.places.held.items())
