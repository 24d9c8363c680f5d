"""The camera card: each mark is at its value, and a lost setting is named and marked."""

import shutil
from pathlib import Path as FilePath
from typing import Any

import pytest
from lxml import html

from jobcheck.commands.picture import CameraCard, ControlRow, cameras_picture
from jobcheck.reports.pages import pictures
from jobcheck.reports.pages.drawing import Scale
from tests.golden.play import EXAMPLES

_LEFT, _RIGHT = 390.0, 860.0


def marks(card: CameraCard, root: FilePath) -> dict[str, dict[str, float]]:
    """Return control -> letter -> where it is drawn, read back from the page."""
    page: Any = html.fromstring(pictures.cameras(cameras_picture(root)).html())
    (drawing,) = page.xpath(f"//figure[contains(h2, 'Camera {card.name}:')]//svg")
    found: dict[str, dict[str, float]] = {}
    for group in drawing.iterfind("g"):
        name = group.findtext("text")
        stems = [one for one in group.iterfind("path") if "V" in one.get("d")][: len(group)]
        letters = [one for one in group.iterfind("text") if set(one.text) <= set("DdRS")]
        places = [float(one.get("d").split()[0][1:]) for one in stems if "v5" not in one.get("d")]
        found[name] = {
            letter: x
            for text, x in zip(letters, [x for x in places if x >= _LEFT], strict=True)
            for letter in text.text
        }
    return found


def _text(page: str) -> str:
    tree: Any = html.fromstring(page)
    return str(tree.text_content())


def values(row: ControlRow) -> dict[str, int]:
    default = row.reported.default if row.reported else None
    every = {"D": default, "d": row.described, "R": row.recorded, "S": row.seen}
    return {letter: value for letter, value in every.items() if value is not None}


@pytest.mark.parametrize("shop", ["soil-logger", "soil-logger-drifted"])
def test_each_mark_is_at_its_value(shop: str) -> None:
    root = EXAMPLES / shop
    compared = 0
    for card in cameras_picture(root).cards:
        drawn = marks(card, root)
        for row in card.rows:
            assert row.reported is not None
            scale = Scale(row.reported.min, row.reported.max, _LEFT, _RIGHT)
            expected = {letter: scale.at(value) for letter, value in values(row).items()}
            assert drawn[row.name] == expected
            compared += 1
    assert compared == 22


def test_a_lost_setting_is_said() -> None:
    found = cameras_picture(EXAMPLES / "soil-logger-drifted")
    (up,) = (card for card in found.cards if card.name == "up")
    assert [row.name for row in up.rows if row.is_lost] == [
        *("auto_exposure", "exposure_time_absolute", "gain", "white_balance_automatic")
    ]
    says = {row.name: row.says for row in up.rows}
    assert says["gain"] == "missing; recorded 4"
    assert says["auto_exposure"] == ("3 aperture priority, the device's default; recorded 1 manual")
    page = pictures.cameras(found).html()
    assert "Camera up: 4 settings not as recorded; never seen" in page
    assert "Camera head: as recorded; never seen" in page


def test_a_seen_camera_has_its_day_and_mark(root: FilePath) -> None:
    machine = root / "placer.yaml"
    text = machine.read_text()
    machine.write_text(text.replace("    aim: up\n", "    aim: up\n    seen: 2026-11-25\n", 1))
    (up,) = (card for card in cameras_picture(root).cards if card.name == "up")
    assert all(row.seen == row.described for row in up.rows)
    assert "last seen as described on 2026-11-25" in pictures.cameras(cameras_picture(root)).html()


def test_without_a_record_nothing_is_called_lost(root: FilePath) -> None:
    shutil.rmtree(root / "known-good")
    found = cameras_picture(root)
    assert not any(row.is_lost for card in found.cards for row in card.rows)
    assert "Recorded: none kept yet." in pictures.cameras(found).html()
    assert "Camera head: no record to compare with; never seen" in pictures.cameras(found).html()


def test_a_damaged_record_is_named_and_not_used(root: FilePath) -> None:
    newest = sorted((root / "known-good").iterdir())[-1]
    (newest / "placer.yaml").write_text("describes: machine\n")
    machine = root / "placer.yaml"
    machine.write_text(machine.read_text().replace("gain: 8", "gain: 9"))
    found = cameras_picture(root)
    assert "record 3" not in found.record
    assert any("Record 3" in one for one in found.damaged)
    assert found.damaged[0] in _text(pictures.cameras(found).html())
