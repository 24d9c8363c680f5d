"""Files that shop.yaml no longer names, and patterns that match nothing: one cause, one finding."""

import re

from jobcheck.findings import Finding, Level
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import linted, starter
from tests.support.remedies import in_words

NAMED = b"feeders: [feeders.yaml]"
BOTH = b"feeders: [feeders.yaml, more.yaml]"


def read(files: dict[str, bytes]) -> Reading:
    reading = read_shop(State("edited", HeldFiles(files), "edited"))
    assert not reading.faults
    return reading


def files() -> dict[str, bytes]:
    found = {name: held.data for name, held in starter().places.held.items()}
    assert NAMED in found["shop.yaml"]
    return found


def in_two_files() -> dict[str, bytes]:
    """Return the starter shop with its last feeders in a file of their own."""
    found = files()
    head, _, body = found["feeders.yaml"].decode().partition("\nfeeders:\n")
    first, *rest = re.split(r"(?m)^(?=  f\d+:)", body)
    half = len(rest) // 2
    found["feeders.yaml"] = (head + "\nfeeders:\n" + first + "".join(rest[:half])).encode()
    more = "describes: feeders\nedition: 1\nfeeders:\n" + "".join(rest[half:])
    return {
        **found,
        "more.yaml": more.encode(),
        "shop.yaml": found["shop.yaml"].replace(NAMED, BOTH),
    }


def compared(now: dict[str, bytes], good: dict[str, bytes]) -> tuple[Finding, ...]:
    return linted(read(now), read(good).shop).open


def test_a_feeder_file_that_is_no_longer_named_is_one_finding() -> None:
    good = in_two_files()
    (finding,) = compared({**good, "shop.yaml": files()["shop.yaml"]}, good)
    assert (finding.rule, finding.level) == ("file-no-longer-named", Level.ERROR)
    assert finding.message.startswith("shop.yaml no longer names more.yaml: ")
    assert in_words(finding.remedy).startswith(
        "Name the files again as recorded: jobcheck restore shop.feeders"
    )


def test_feeders_that_moved_into_the_other_file_are_not_missing() -> None:
    assert not compared(files(), in_two_files())


def test_a_feeder_file_that_no_job_needs_is_a_warning() -> None:
    spare = b"describes: feeders\nedition: 1\nfeeders:\n  f99: {carrier: tape}\n"
    named = files()["shop.yaml"].replace(NAMED, BOTH)
    (finding,) = compared(files(), {**files(), "shop.yaml": named, "more.yaml": spare})
    assert (finding.rule, finding.level) == ("file-no-longer-named", Level.WARNING)


def test_a_misspelled_pattern_of_jobs_is_one_finding_that_puts_the_pattern_back() -> None:
    wrong = files()
    wrong["shop.yaml"] = wrong["shop.yaml"].replace(b"jobs/*/job.yaml", b"jobs/*/jb.yaml")
    (finding,) = compared(wrong, files())
    assert (finding.rule, finding.level) == ("file-no-longer-named", Level.ERROR)
    assert in_words(finding.remedy).startswith(
        "Name the files again as recorded: jobcheck restore shop.jobs"
    )
    (finding,) = linted(read(wrong)).open
    assert (finding.rule, finding.level) == ("file-no-longer-named", Level.NOTE)


def test_jobs_that_are_gone_are_an_error_where_the_record_has_them() -> None:
    gone = {name: data for name, data in files().items() if not name.startswith("jobs/")}
    (finding,) = compared(gone, files())
    assert (finding.rule, finding.level) == ("file-no-longer-named", Level.ERROR)
    assert finding.message == "jobs/*/job.yaml matches no file, but the record has job first-board."
