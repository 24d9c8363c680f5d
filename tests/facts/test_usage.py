"""From an entry of a shop to what depends on it, on the starter shop."""

from jobcheck.facts.facts import Facts
from jobcheck.facts.usage import Usage
from tests.support.edited import edited


def usage(edits: str = "") -> Usage:
    shop = edited(edits).shop
    assert shop is not None
    return Facts(shop).usage


def test_parts_found_by_a_recognition():
    assert usage().parts_of_recognition("diode") == ("diode-sod123",)


def test_recognition_of_two_outlines_reaches_the_parts_of_both():
    found = usage("outlines.chip-0805.recognition: chip-small").parts_of_recognition("chip-small")
    assert found == ("10k-0603", "100n-0805")


def test_parts_of_an_outline():
    assert usage("parts.22k-0603: {outline: chip-0603}").parts_of_outline("chip-0603") == (
        "10k-0603",
        "22k-0603",
    )


def test_nozzle_reaches_the_parts_of_its_outlines_once():
    found = usage("outlines.soic-8.nozzles: [bore-1-0, bore-1-0, bore-0-4]")
    assert found.parts_of_nozzle("bore-1-0") == ("diode-sod123", "timer-soic8")
    assert found.parts_of_nozzle("bore-0-4") == ("10k-0603", "100n-0805", "timer-soic8")


def test_recognitions_of_a_camera_without_its_home_mark():
    assert usage().recognitions_of_camera("head") == ()
    assert usage().recognitions_of_camera("up") == ("chip-small", "chip-large", "diode", "soic")


def test_feeders_of_a_part():
    assert usage("feeders.f02.part: 10k-0603").feeders_of_part("10k-0603") == ("f01", "f02")


def test_placements_of_parts_by_job():
    assert usage().placements_of_parts(["diode-sod123", "10k-0603"]) == {
        "first-board": ["D1", "D2", "R1", "R2", "R3"]
    }
    assert usage().placements_of_parts(["no-such-part"]) == {}


def test_only_what_is_fitted_on_the_built_side_counts():
    edits = """
        jobs.first-board.placements.R1.fitted: false
        jobs.first-board.placements.R2.side: bottom
    """
    assert usage(edits).placements_of_parts(["10k-0603"]) == {"first-board": ["R3"]}
    assert usage(edits).placement_count("first-board") == 6


def test_part_named_twice_counts_once():
    assert usage().placements_of_parts(["timer-soic8"] * 2) == {"first-board": ["U1"]}


def test_placed_parts():
    found = usage("parts.spare: {outline: chip-0603}").placed_parts()
    assert found == {"10k-0603", "100n-0805", "diode-sod123", "timer-soic8"}


def test_broken_link_still_has_users():
    assert usage("parts.10k-0603.outline: gone").parts_of_outline("gone") == ("10k-0603",)
