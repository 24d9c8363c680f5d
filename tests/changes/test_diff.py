"""Each kind of change, told by its values, on the starter shop."""

import subprocess
import sys
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from jobcheck.changes import walk
from jobcheck.changes.apply import apply, within
from jobcheck.changes.change import Change, Kind
from jobcheck.changes.diff import diff
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import parse, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING, same
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import edited, starter
from tests.support.generate import Size, make_shop, turn_placements, write


def shop(edits: str = "", base: str = "") -> Shop:
    read = edited(edits, edited(base) if base else None).shop
    assert read is not None
    return read


def changes(edits: str, base: str = "") -> tuple[Change, ...]:
    return diff(shop(base), shop(edits, base))


def told(edits: str, base: str = "") -> list[tuple[str, str]]:
    return [(show(change.path), change.kind.value) for change in changes(edits, base)]


UP = "cameras.up.controls"


@pytest.mark.parametrize(
    ("edits", "kind"),
    [
        (f"{UP}.gain: ~", "lost"),
        (f"{UP}.gain: 0", "fell back"),
        (f"{UP}.gain: 5", "changed"),
        (f"{UP}.auto_exposure: 3", "fell back"),
        (f"{UP}.auto_exposure: 2", "automatic on"),
        (f"{UP}.exposure_time_absolute: 157", "fell back"),
        ("cameras.head.controls.white_balance_automatic: 1", "automatic on"),
        (f"{UP}.sharpness: 3", "added"),
        ("feeders.f02.slot: 4", "moved"),
        ("feeders.f05.pick.rotation: 270", "half a turn"),
        ("feeders.f05.pick.rotation: -90", "half a turn"),
        ("feeders.f05.pick.rotation: 0", "a quarter turn"),
        ("feeders.f05.pick.rotation: 100", "changed"),
        ("feeders.f05.tape.pin1: q4", "half a turn"),
        ("outlines.sod-123.pin1_at_zero: right", "half a turn"),
        ("cameras.up.image.up: +y", "mirrored"),
        ("spindles.a.offset_from_camera.x: 31.2", "mirrored"),
        ("jobs.first-board.placements.R1.side: bottom", "mirrored"),
        ("jobs.first-board.placements.R1.x: 30", "mirrored"),
        ("outlines.sod-123.body_mm: [71.12, 45.72]", "scaled"),
        ("outlines.sod-123.height_mm: 0.0433", "scaled"),
        ("jobs.first-board.placements.R1.x: 393.7", "scaled"),
        ("outlines.sod-123.height_mm: ~", "lost"),
        ("feeders.f05.remaining: ~", "lost"),
        ("parts.10k-0603: ~", "removed"),
        ("parts.11k-0603: {outline: chip-0603}", "added"),
        ("cameras.head: ~", "lost"),
    ],
)
def test_kind(edits, kind):
    assert told(edits) == [(edits.partition(": ")[0], kind)]


def test_turned_picture_is_not_mirrored():
    edits = "cameras.up.image.up: +y\ncameras.up.image.right: -x"
    assert {kind for _, kind in told(edits)} == {"half a turn"}


def test_turn_and_factor_are_told():
    assert changes("feeders.f05.pick.rotation: 0")[0].by == -90
    assert changes("outlines.sod-123.height_mm: 27.94")[0].by == 25.4


@pytest.mark.parametrize(
    ("old", "new", "is_same"),
    [
        (1, 1.0, True),
        (0, -0.0, True),
        (True, 1, False),
        (False, 0, False),
        ([1, True], [1, 1], False),
        ({"a": None}, {}, True),
        ({"a": {}}, MISSING, True),
        ({"a": False}, {}, False),
        ("1", 1, False),
        ([], None, False),
        ({"a": 1, "b": [2]}, {"b": [2.0], "a": 1}, True),
        (float("nan"), float("nan"), True),
    ],
)
def test_what_says_the_same(old, new, is_same):
    assert same(old, new) is is_same
    assert same(new, old) is is_same


def test_true_and_one_differ_inside_a_record_too():
    old = replace(shop(), plain={"feeders": {"f1": {"a": True, "b": [True], "c": 1}}})
    new = replace(shop(), plain={"feeders": {"f1": {"a": 1, "b": [1], "c": 1.0}}})
    assert [change.path[-1] for change in diff(old, new)] == ["a", "b"]


def test_a_lost_block_is_one_change_with_a_line_for_each_control():
    (change,) = changes(f"{UP}: ~")
    assert (change.path, change.kind) == (("cameras", "up", "controls"), Kind.LOST)
    assert change.is_camera_loss
    assert [show(path) for path, _, new in change.leaves() if new is MISSING] == [
        f"{UP}.{name}" for name in shop().cameras["up"].controls or ()
    ]


def test_a_renamed_part_is_moved_and_its_users_changed():
    edits = """
        parts.diode-sod123: ~
        parts.diode: {outline: sod-123, value: 40 V 1 A}
        feeders.f03.part: diode
    """
    first, second = sorted(changes(edits), key=lambda change: change.path[0])
    assert first.path == ("feeders", "f03", "part")
    assert (second.kind, second.path, second.other) == (
        Kind.MOVED,
        ("parts", "diode-sod123"),
        ("parts", "diode"),
    )


def test_what_else_changed_in_a_renamed_feeder_stands_under_its_new_name():
    feeder = dict(shop().plain["feeders"]["f03"], remaining=700)
    old, new = shop(), shop()
    new.plain["feeders"]["f04"] = feeder
    del new.plain["feeders"]["f03"]
    assert [(show(change.path), change.kind) for change in diff(old, new)] == [
        ("feeders.f03", Kind.MOVED),
        ("feeders.f04.remaining", Kind.CHANGED),
    ]


def test_a_renamed_camera_is_known_by_its_serial():
    old, new = shop(), shop(f"{UP}.gain: ~")
    new.plain["cameras"]["below"] = new.plain["cameras"].pop("up")
    assert [(show(change.path), change.kind) for change in diff(old, new)] == [
        ("cameras.below.controls.gain", Kind.LOST),
        ("cameras.up", Kind.MOVED),
    ]


def test_two_that_could_be_the_renamed_one_are_added_and_removed():
    edits = """
        parts.diode-sod123: ~
        parts.d1: {outline: sod-123, value: 40 V 1 A}
        parts.d2: {outline: sod-123, value: 40 V 1 A}
    """
    assert sorted(kind for _, kind in told(edits)) == ["added", "added", "removed"]


def test_a_control_under_the_name_of_a_newer_kernel_is_moved():
    old = f"{UP}.auto_exposure: ~\n{UP}.exposure_auto: 1"
    new = f"{UP}.exposure_auto: ~\n{UP}.auto_exposure: 1"
    (change,) = changes(new, base=old)
    assert (change.kind, change.other) == (Kind.MOVED, parse(f"{UP}.auto_exposure"))
    assert not change.is_camera_loss


def test_exchanged_slots():
    (change,) = changes("feeders.f01.slot: 2\nfeeders.f02.slot: 1")
    assert (change.kind, change.path, change.other) == (
        Kind.EXCHANGED,
        ("feeders", "f01", "slot"),
        ("feeders", "f02", "slot"),
    )
    assert (change.old, change.new) == (1, 2)


def test_exchanged_nozzles_are_one_change():
    old, new = shop(), shop()
    nozzles = new.plain["nozzles"]
    nozzles["bore-0-4"], nozzles["bore-1-0"] = nozzles["bore-1-0"], nozzles["bore-0-4"]
    assert [(change.path, change.kind, change.other) for change in diff(old, new)] == [
        (("nozzles", "bore-0-4"), Kind.EXCHANGED, ("nozzles", "bore-1-0"))
    ]


def test_exchanged_devices_of_two_cameras():
    old, new = shop(), shop()
    up, head = (new.plain["cameras"][name] for name in ("up", "head"))
    up["device"], head["device"] = head["device"], up["device"]
    assert [(show(change.path), change.kind) for change in diff(old, new)] == [
        ("cameras.head.device", Kind.EXCHANGED)
    ]


def test_lost_camera_settings_come_first_then_settings_measurements_counts_notes():
    edits = f"""
        parts.10k-0603.note: bought anew
        feeders.f01.remaining: 12
        outlines.sod-123.height_mm: ~
        feeders.f02.slot: 4
        {UP}.white_balance_automatic: 1
        {UP}.gain: ~
        {UP}.auto_exposure: 3
    """
    assert [show(change.path) for change in changes(edits)] == [
        f"{UP}.gain",
        f"{UP}.auto_exposure",
        f"{UP}.white_balance_automatic",
        "feeders.f02.slot",
        "outlines.sod-123.height_mm",
        "feeders.f01.remaining",
        "parts.10k-0603.note",
    ]


def test_class_of_a_change():
    assert changes("feeders.f05.remaining: 1")[0].field_class is FieldClass.COUNT
    assert changes("feeders.f05.pick.x: 84.1")[0].field_class is FieldClass.MEASUREMENT


def test_a_lost_port_is_no_lost_camera_setting():
    (change,) = changes("cameras.up.device.port: ~")
    assert (change.kind, change.is_camera_loss) == (Kind.LOST, False)


def test_a_selection_inside_a_lost_block_puts_back_that_value_alone():
    now, good = shop(f"{UP}: ~"), shop()
    (change,) = within(diff(now, good), parse(f"{UP}.gain"))
    assert apply(now.plain, [change])["cameras"]["up"]["controls"] == {"gain": 4}


def test_only_looks_at_one_selection():
    old, new = shop(), shop(f"{UP}.gain: 5\nfeeders.f02.slot: 4")
    assert [show(c.path) for c in diff(old, new, only=("feeders",))] == ["feeders.f02.slot"]


def big(turned: int) -> Shop:
    documents = make_shop(7, Size(placements=5000, parts=40, inline=True))
    turn_placements(documents, turned)
    read = read_shop(State("big", HeldFiles(write(documents)), "big")).shop
    assert read is not None
    return read


def test_only_records_that_differ_are_looked_into(monkeypatch):
    """20 of 5,000 placements: deepdiff sees 20 records, and equality is asked once a record."""
    seen: list[object] = []
    asked: list[object] = []
    inside = walk._inside
    old, new = big(0), big(20)

    def looked_into(*records: Any) -> Any:
        seen.append(records)
        return inside(*records)

    def counted(one: object, other: object) -> bool:
        asked.append(one)
        return same(one, other)

    monkeypatch.setattr(walk, "_inside", looked_into)
    monkeypatch.setattr(walk, "same", counted)
    assert len(diff(old, new)) == 20
    assert len(seen) == 20
    assert len(asked) < 1.1 * 5000


def test_what_both_sides_share_is_not_looked_at(monkeypatch):
    monkeypatch.setattr(walk, "same", lambda *_: pytest.fail("compared what is the same object"))
    plain = big(0).plain
    assert list(walk.differences(plain, dict(plain))) == []


@pytest.mark.parametrize(
    ("edit", "changes", "is_imported"),
    [
        ("", 0, False),
        ("feeders.f02.slot: 4", 1, False),
        ("cameras.up.controls.gain: 5", 1, False),
        ("cameras.up.reported.gain.max: 90", 1, True),
    ],
)
def test_deepdiff_is_imported_only_where_a_block_inside_a_block_differs(edit, changes, is_imported):
    code = (
        "import sys; from jobcheck.changes.diff import diff;"
        "from tests.support.edited import edited;"
        f"assert len(diff(edited('').shop, edited({edit!r}).shop)) == {changes};"
        f"sys.exit(('deepdiff' in sys.modules) is not {is_imported})"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_records_and_their_blocks_are_compared_as_deepdiff_would():
    draw = Random(5)
    values: tuple[Any, ...] = (1, 1.0, True, "1", None, {}, [1], [True], {"a": 1}, 2.5)

    def record(depth: int = 2) -> dict[str, Any]:
        return {
            key: record(depth - 1) if depth and draw.random() < 0.2 else draw.choice(values)
            for key in "abcde"
            if draw.random() < 0.8
        }

    compared = 0
    for _ in range(2000):
        old, new = record(), record()
        found = list(walk._inside(old, new, ()))
        assert repr(found) == repr(list(walk._deep_inside(old, new, ())))
        compared += len(found)
    assert compared > 4000


def test_starter_equals_itself():
    assert diff(shop(), starter().shop or shop()) == ()
