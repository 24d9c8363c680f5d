"""What a change endangers, on the starter shop: 8 placements, 10 boards to be built."""

import pytest

from jobcheck.changes.diff import diff
from jobcheck.changes.groups import groups
from jobcheck.changes.impact import Impact, endangered, impact, impact_of
from jobcheck.facts.facts import Facts
from jobcheck.shop.paths import show
from tests.changes.test_diff import UP, shop

PLACED = "jobs.first-board.placements"


def of(edits: str, base: str = "") -> Impact:
    old, new = shop(base), shop(edits, base)
    return impact_of(diff(old, new), Facts(old), Facts(new))


def test_a_control_reaches_recognitions_parts_and_placements():
    found = of(f"{UP}.gain: 5")
    assert found.recognitions == ("chip-large", "chip-small", "diode", "soic")
    assert found.parts == ("10k-0603", "100n-0805", "diode-sod123", "timer-soic8")
    (job,) = found.jobs
    assert (job.job, len(job.references), job.of, job.in_run) == ("first-board", 8, 8, 80)
    assert endangered(found) == (
        "4 of 4 parts; first-board 8 of 8 placements a board, 80 in the planned run of 10 panels"
    )


def test_the_planned_run_counts_the_cells_that_are_built():
    panel = (
        "jobs.first-board.panel: {columns: 2, rows: 3, pitch_mm: [43, 33], skip: [2-3]}\n"
        "jobs.first-board.run.panels: 12"
    )
    (job,) = of("feeders.f05.slot: 6", panel).jobs
    assert (job.references, job.in_run, job.panels) == (("U1",), 1 * 5 * 12, 12)


def test_no_run_is_not_a_run_of_none():
    (job,) = of("feeders.f05.slot: 6", "jobs.first-board.run: ~").jobs
    assert (job.in_run, job.panels) == (None, None)


@pytest.mark.parametrize(
    ("edits", "recognitions"),
    [
        ("cameras.up.light.percent: 50", ("chip-large", "chip-small")),
        ("cameras.up.light.channel: other", ("chip-large", "chip-small", "diode", "soic")),
        ("cameras.up.device.port: ~", ()),
        ("cameras.up.frame_rate_hz: 5", ()),
        ("cameras.up.device.serial: ~", ("chip-large", "chip-small", "diode", "soic")),
        ("recognitions.diode.tuned_under: ~", ()),
    ],
)
def test_only_what_a_tuning_depends_on_endangers_it(edits, recognitions):
    assert of(edits).recognitions == recognitions


@pytest.mark.parametrize(
    ("edits", "references"),
    [
        ("recognitions.diode.threshold_grey: 90", "D1, D2"),
        ("outlines.soic-8.mass_mg: 80", "U1"),
        ("parts.timer-soic8.value: 555", "U1"),
        ("nozzles.bore-1-0.bore_mm: 0.9", "D1, D2, U1"),
        ("rack.p2.z: -24", "D1, D2, U1"),
        ("feeders.f03: ~", "D1, D2"),
        (f"{PLACED}.R1.x: 11", "R1"),
        ("feeders.f03.part: 10k-0603", "D1, D2, R1, R2, R3"),
        ("feeders.f01.remaining: 3", ""),
        ("parts.10k-0603.note: bought anew", ""),
        ("shop.limits.attrition_percent: 3", ""),
        ("parts.spare: {outline: chip-0603}", ""),
        ("jobs.first-board.run.panels: 3", ""),
    ],
)
def test_what_is_reached(edits, references):
    base = "shop.limits: {attrition_percent: 2}" if "limits" in edits else ""
    assert endangered(of(edits, base)) == references


@pytest.mark.parametrize(
    "edits",
    [
        "cameras.head.mm_per_pixel.x: 0.02",
        "spindles.a.offset_from_camera.x: -31",
        "traverse_z: -3",
        "jobs.first-board.seat.x: 151",
        "feeder_rows.front.first.x: 21",
    ],
)
def test_what_everything_depends_on_reaches_every_placement(edits):
    assert len(of(edits).jobs[0].references) == 8


@pytest.mark.parametrize(
    ("edits", "so"),
    [
        ("outlines.soic-8.height_mm: ~", "the nozzle would press 1.75 mm too deep"),
        ("outlines.soic-8.height_mm: 1.5", "the nozzle would press 0.25 mm too deep"),
        ("outlines.soic-8.height_mm: 2", "the part would be let go 0.25 mm above the paste"),
        ("jobs.first-board.seat.z: -20.3", "the nozzle would press 0.3 mm too deep"),
        ("feeders.f03.pick.z: -18", "the nozzle would stay 0.2 mm above the part"),
        ("feeders.f03.pick.z: -19", "the nozzle would press 0.8 mm too deep into the pocket"),
        ("feeders.f02.pick.x: 39", "the nozzle would pick 3 mm from where it did"),
        ("feeders.f02.slot: 4", "its pick point stayed at slot 2"),
        ("feeders.f05: ~", "no feeder holds timer-soic8"),
        ("feeders.f03.pick.rotation: 180", "pin 1 would be on the pad of pin 2"),
        ("feeders.f05.pick.rotation: 270", "it would be half a turn off"),
        ("feeders.f05.pick.rotation: 0", "it would be across its pads"),
        ("feeders.f01.pick.rotation: 180", "it looks the same so turned, which does no harm"),
        (f"{PLACED}.D1.rotation: 180", "pin 1 would be on the pad of pin 2"),
        (f"{PLACED}.D1.side: bottom", "it is listed on the bottom now"),
    ],
)
def test_what_would_happen(edits, so):
    assert of(edits).so == (so,)


def test_a_part_that_loses_its_own_height_falls_to_that_of_its_outline():
    found = of("parts.timer-soic8.height_mm: ~", "parts.timer-soic8.height_mm: 2.65")
    assert found.so == ("the nozzle would press 0.9 mm too deep",)


def test_a_feeder_that_moved_with_its_pick_point_says_nothing_of_it():
    found = of("feeders.f02.slot: 4\nfeeders.f02.pick.x: 68")
    assert found.so == ("the nozzle would pick 32 mm from where it did",)


SQUARE = """
    outlines.soic-8.body_mm: [7, 7]
    outlines.soic-8.terminals: 32
"""


@pytest.mark.parametrize(
    ("edits", "pin"),
    [
        ("feeders.f05.pick.rotation: 180", 25),
        ("feeders.f05.pick.rotation: 0", 9),
        (f"{PLACED}.U1.rotation: 180", 9),
        (f"{PLACED}.U1.rotation: 0", 25),
    ],
)
def test_a_quad_turned_by_a_quarter(edits, pin):
    """Pins run counter-clockwise: turned so by 90, pin 1 of 32 comes to the pad of pin 9.

    A larger attitude at pick turns the part less, a larger listed rotation more.
    """
    assert of(edits, SQUARE).so == (f"pin 1 would be on the pad of pin {pin}",)


def test_a_part_without_a_pad_at_the_quarter():
    odd = SQUARE.replace("32", "6")
    assert of("feeders.f05.pick.rotation: 0", odd).so == ("it would be a quarter turn off",)


def test_each_control_of_a_camera_reaches_the_same():
    edits = f"{UP}.gain: ~\n{UP}.auto_exposure: 3"
    old, new = shop(), shop(edits)
    one, other = (impact(change, Facts(old), Facts(new)) for change in diff(old, new))
    assert one == other == of(edits)


def grouped(edits: str) -> list[tuple[str, int]]:
    old, new = shop(), shop(edits)
    found = groups(diff(old, new), Facts(old), Facts(new))
    return [(show(group.path) if group.path else "", len(group.changes)) for group in found]


def test_one_cause_is_one_group_lost_cameras_first_counts_and_notes_last():
    edits = f"""
        parts.10k-0603.note: bought anew
        feeders.f01.remaining: 12
        feeders.f02.remaining: 12
        cameras.up.frame_rate_hz: 15
        feeders.f02.slot: 4
        feeders.f02.pick.x: 68
        home_mark.x: 13
        home_mark.y: 61
        {UP}.gain: ~
        {UP}.auto_exposure: 3
    """
    assert grouped(edits) == [
        ("cameras.up", 2),
        ("cameras.up", 1),
        ("feeders.f02", 2),
        ("home_mark", 2),
        ("", 2),
        ("", 1),
    ]


def test_placements_turned_alike_are_one_group():
    edits = "\n".join(f"{PLACED}.R{index}.rotation: 180" for index in (1, 2))
    assert grouped(edits) == [("jobs.first-board.placements", 2)]


def test_names_that_follow_a_rename_belong_to_it_and_endanger_nothing():
    edits = f"""
        parts.diode-sod123: ~
        parts.diode: {{outline: sod-123, value: 40 V 1 A}}
        feeders.f03.part: diode
        {PLACED}.D1.part: diode
        {PLACED}.D2.part: diode
        jobs.first-board.bill.D1.part: diode
        jobs.first-board.bill.D2.part: diode
    """
    old, new = shop(), shop(edits)
    (group,) = groups(diff(old, new), Facts(old), Facts(new))
    assert group.path == ("parts", "diode-sod123")
    assert group.changes[0].other == ("parts", "diode")
    assert len(group.changes) == 6
    assert endangered(group.impact) == ""


def test_a_rename_that_was_not_followed_endangers_who_still_uses_the_old_name():
    edits = """
        parts.diode-sod123: ~
        parts.diode: {outline: sod-123, value: 40 V 1 A}
    """
    assert endangered(of(edits)) == "D1, D2"
