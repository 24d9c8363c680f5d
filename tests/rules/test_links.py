"""Names that point somewhere, at their edges."""

import json

from jobcheck.facts.links import _plan
from jobcheck.findings import Finding, Level
from jobcheck.rules.shop.links import _WITHOUT, ONE_OF
from jobcheck.shop.classes import KINDS
from jobcheck.shop.paths import show
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import edited, linted, starter
from tests.support.generate import AS_OF, Size, make_files
from tests.support.remedies import in_words


def found(edits: str, rule: str = "name-unknown", **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


def test_one_missing_outline_of_many_parts_is_one_finding_with_a_count() -> None:
    parts = "\n".join(f"parts.p{n:02}: {{outline: chip-063}}" for n in range(40))
    (finding,) = found(parts)
    assert finding.message == "40 parts name outline chip-063, which does not exist."
    assert show(finding.path) == "parts.p00.outline"
    assert len(finding.related) == 3
    assert "Did you mean chip-0603?" in in_words(finding.remedy)


def test_placements_feeders_and_bill_that_name_one_missing_part_are_one_finding() -> None:
    (finding,) = found("parts.10k-0603: ~")
    assert finding.message == (
        "feeder f01 and 3 placements of first-board name part 10k-0603, which does not exist."
    )


def test_a_part_that_only_a_bill_names_is_left_to_the_comparison_with_the_list() -> None:
    assert not found("jobs.first-board.bill.J1: {part: connector}")


def test_a_missing_part_that_is_not_built_is_a_note() -> None:
    (finding,) = found(
        "jobs.first-board.placements.J1: {part: connector, x: 5, y: 15, fitted: false}"
    )
    assert finding.level is Level.NOTE
    assert "placement J1 of first-board" in finding.message


def test_what_a_missing_name_leaves_unused_is_told_with_it() -> None:
    assert not found("parts.10k-0603.outline: chip-063", "entries-unused")
    assert not found("outlines.sod-123: ~", "entries-unused")


def test_the_name_that_the_record_has_is_what_was_meant() -> None:
    (finding,) = found("feeders.f01.part: 100n-0603", good=starter().shop)
    assert finding.expected == "10k-0603"
    assert in_words(finding.remedy).startswith("Did you mean 10k-0603?")


def test_what_the_record_still_has_is_offered_back() -> None:
    lost = "outlines.sod-123: ~"
    (finding,) = found(lost, good=starter().shop)
    assert finding.expected == "outlines.sod-123 is described"
    assert "jobcheck restore outlines.sod-123" in in_words(finding.remedy)


def test_an_entry_renamed_since_the_record_is_what_was_meant() -> None:
    renamed = "outlines.sod-123: ~\noutlines.sod123: {body_mm: [2.8, 1.8], height_mm: 1.1, "
    renamed += "terminals: 2, polarised: false, nozzles: [bore-1-0]}"
    (finding,) = found(renamed, good=starter().shop)
    assert in_words(finding.remedy).startswith("Did you mean sod123?")
    (finding,) = found("outlines.chip-0603: ~", good=starter().shop)
    assert (
        in_words(finding.remedy)
        == "If it was lost, put it back: jobcheck restore outlines.chip-0603"
    )


def test_a_row_lost_with_all_its_feeders_in_it_is_one_finding() -> None:
    (finding,) = found("feeder_rows.front: ~")
    assert finding.message.startswith("4 feeders name feeder row front")
    assert finding.observed == "front; no feeder row is described"


def test_unused_entries_are_one_note_a_collection() -> None:
    spare = "\n".join(f"parts.spare-{letter}: {{outline: soic-8}}" for letter in "ba")
    spare += "\noutlines.spare: {body_mm: [9, 9], height_mm: 1, terminals: 2, polarised: false}"
    notes = found(spare, "entries-unused")
    assert [finding.message for finding in notes] == [
        "outline spare is not named by anything.",
        "2 parts are not named by anything: spare-a, spare-b.",
    ]
    assert [show(path) for _, path in notes[1].related] == ["parts.spare-b"]


def test_a_part_in_the_bill_alone_is_used() -> None:
    spare = "parts.spare: {outline: soic-8}\njobs.first-board.bill.U9: {part: spare}"
    assert not found(spare, "entries-unused")


def test_events_that_touch_the_same_nothing_are_one_finding() -> None:
    (finding,) = found(
        "events.a: {date: 2026-10-01, touched: [cameras.upp]}\n"
        "events.b: {date: 2026-10-02, touched: [x, cameras.upp]}",
        "name-unknown",
    )
    assert finding.message.startswith("2 events, a first, touched cameras.upp")
    assert "Did you mean cameras.up?" in in_words(finding.remedy)


def test_an_event_that_touched_what_no_path_can_be_is_found() -> None:
    event = 'events.a: {date: 2026-10-01, touched: ["the lens"]}'
    assert found(event, "name-unknown")


def test_every_collection_that_can_be_named_has_its_words() -> None:
    waiting, named = list(KINDS.values()), set()
    for model in waiting:
        naming, _ = _plan(model)
        named |= {collection for _, collection in naming}
    assert named <= set(ONE_OF) & set(_WITHOUT)


def test_generated_shops_have_no_finding() -> None:
    for seed in range(5):
        reading = read_shop(State("made", HeldFiles(make_files(seed, Size(60, 20))), "made"))
        assert linted(reading, today=AS_OF).findings == ()


def test_a_collection_that_is_gone_is_one_finding_at_the_files_that_should_hold_it() -> None:
    findings = linted(edited("parts: ~\noutlines: ~\nrecognitions: ~"), starter().shop).open
    (finding,) = [finding for finding in findings if finding.rule == "name-unknown"]
    assert finding.message == "4 parts are named, but no part is described."
    assert finding.path == ("shop", "parts")
    assert in_words(finding.remedy) == "Name the file that describes them under parts in shop.yaml."
    assert "recorded-value-missing" not in {finding.rule for finding in findings}


def test_a_renamed_camera_is_recognised_by_what_it_says() -> None:
    touched = "events.e1: {date: 2026-09-01, touched: [cameras.up]}"
    good = edited(touched)
    plain = good.shop.plain["cameras"]["up"]
    renamed = edited(f"cameras.upward: {json.dumps(plain, default=str)}\ncameras.up: ~", good)
    (finding,) = [f for f in linted(renamed, good.shop).open if f.level is Level.ERROR]
    assert in_words(finding.remedy).startswith("Did you mean upward? Then correct the name.")
    assert not [f for f in linted(renamed, good.shop).open if f.path[0] == "events"]
