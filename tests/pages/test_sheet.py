"""The run sheet: order of feeders, pin 1 drawn as it is said, counts, cautions above the boxes."""

import io
import re
from datetime import date
from math import atan2, degrees
from pathlib import Path as FilePath

import pytest
from lxml import html

from jobcheck.cli.main import main
from jobcheck.commands.sheet import CAUTION, sheet
from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.findings import CallRefused
from jobcheck.reports.pages.sheet import sheet_page
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import PIN1_IN_TAPE
from tests.golden.play import EXAMPLES

DAY = date(2026, 11, 25)
SHOP = EXAMPLES / "soil-logger"
_TURN = re.compile(r"rotate\((-?[\d.]+)\)")
_SAID = {"right": 0, "upper right": 45, "top": 90, "upper left": 135, "left": 180} | {
    "lower left": 225,
    "bottom": 270,
    "lower right": 315,
}


def page_of(root: FilePath, panels: int | None = None) -> html.HtmlElement:
    return html.fromstring(sheet_page(sheet(root, "soil-logger", panels, DAY)))


def drawn_pin1(drawing: html.HtmlElement) -> float | None:
    """Return where the mark of pin 1 is in a drawing, degrees counter-clockwise; None: no mark."""
    marks = drawing.xpath(".//polygon[@class='pin1']")
    if not marks:
        return None
    corners = [tuple(map(float, pair.split(","))) for pair in marks[0].get("points").split()]
    x, y = (sum(values) / 3 for values in zip(*corners, strict=True))
    turn = _TURN.search(marks[0].getparent().get("transform"))
    assert turn
    return degrees(atan2(-y, x)) - float(turn[1])


def test_feeders_are_in_slot_order() -> None:
    found = sheet(SHOP, "soil-logger", None, DAY)
    rows = [
        (one.carried.feeder.row, one.carried.feeder.slot)
        for one in found.feeders
        if one.carried.feeder.row
    ]
    assert rows == sorted(rows)
    names = page_of(SHOP).xpath("//ul[@class='feeders']/li/span/strong/text()")
    assert list(names) == [one.carried.name for one in found.feeders]
    assert len(names) == 34


def test_pin_1_in_the_pocket_is_drawn_where_the_carrier_has_it() -> None:
    found = sheet(SHOP, "soil-logger", None, DAY)
    drawings = page_of(SHOP).xpath("//ul[@class='feeders']/li/svg")
    compared = 0
    for one, drawing in zip(found.feeders, drawings, strict=True):
        carried = one.carried
        if carried.pin1_in_tape is None or carried.feed is None or one.outline is None:
            continue
        faces = carried.feed + PIN1_IN_TAPE[carried.pin1_in_tape]
        pin1 = drawn_pin1(drawing)
        assert pin1 is not None
        assert abs(wrap(pin1 - faces)) < 45, carried.name
        compared += 1
    assert compared > 10


def test_every_polarised_part_is_drawn_as_where_computes_it_and_as_the_words_say() -> None:
    found = sheet(SHOP, "soil-logger", None, DAY)
    facts, turn = Facts(found.shop), found.shop.jobs["soil-logger"].seat.rotation
    boxes = {box.findtext("strong"): box for box in page_of(SHOP).xpath("//ul[@class='placed']/li")}
    expected = {reference for reference, _ in facts.polarity.polarised("soil-logger")}
    assert set(boxes) == expected
    for reference, box in boxes.items():
        assert reference
        faces = chain(facts, "soil-logger", reference).pin1_faces
        pin1 = drawn_pin1(box.find("svg"))
        assert pin1 is not None
        assert faces is not None
        assert abs(wrap(pin1 - (faces - turn))) < 45
        said = re.search(r"is at the ([a-z ]+)\.", box.text_content())
        assert said
        assert wrap(_SAID[said[1]] - (faces - turn)) == 0


def test_the_count_is_what_the_run_needs_and_comes_last() -> None:
    found = sheet(SHOP, "soil-logger", 3, DAY)
    assert found.panels == 3
    needed = {supply.part: supply.needed for supply in found.supplies}
    for item in page_of(SHOP, 3).xpath("//ul[@class='feeders']/li"):
        part = item.xpath(".//span[@class='part']/text()")[0]
        last = item.getchildren()[-1]
        assert int(last.text.replace(",", "")) == needed[part]


def test_a_reel_that_ends_is_named_with_its_panel(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    feeders.write_text(feeders.read_text().replace("remaining: 4480", "remaining: 30"))
    ends = [one for one in sheet(root, "soil-logger", None, DAY).supplies if one.stops_in]
    text = page_of(root).text_content()
    assert [one.part for one in ends] == ["res-1m-0603"]
    assert f"res-1m-0603 in f05 ends in panel {ends[0].stops_in}" in text


def test_cautions_are_above_every_box() -> None:
    text = sheet_page(sheet(SHOP, "soil-logger", None, DAY))
    first_box = text.index('<span class="box"')
    for caution in CAUTION:
        assert 0 < text.index(caution.replace("'", "&#39;")) < first_box


def test_the_state_changes_with_a_value_and_not_with_a_comment(root: FilePath) -> None:
    before = sheet(root, "soil-logger", None, DAY).state
    feeders = root / "feeders.yaml"
    feeders.write_text("# looked at\n" + feeders.read_text())
    assert sheet(root, "soil-logger", None, DAY).state == before
    feeders.write_text(feeders.read_text().replace("remaining: 4480", "remaining: 4479"))
    assert sheet(root, "soil-logger", None, DAY).state != before


def test_texts_are_escaped(root: FilePath) -> None:
    parts = root / "parts.yaml"
    text = parts.read_text()
    assert text.count("value: 40 V 1 A") == 1
    parts.write_text(text.replace("value: 40 V 1 A", 'value: "<b>40 V & 1 A"'))
    page = sheet_page(sheet(root, "soil-logger", None, DAY))
    assert "<b>40" not in page
    assert "&lt;b&gt;40 V &amp; 1 A" in page


def test_the_command_prints_the_state(tmp_path: FilePath) -> None:
    out, err = io.StringIO(), io.StringIO()
    file = tmp_path / "sheet.html"
    code = main(
        ["sheet", "soil-logger", "-o", str(file), "--shop", str(SHOP)], out, err, "jobcheck"
    )
    state = sheet(SHOP, "soil-logger", None, DAY).state
    assert (code, out.getvalue()) == (0, f"Written: {file}, state {state}\n")
    assert file.read_text().count(state) >= 2


def test_panels_need_a_run(root: FilePath) -> None:
    job = root / "jobs/soil-logger/job.yaml"
    kept = [line for line in job.read_text().splitlines() if not line.startswith("run:")]
    job.write_text("\n".join(kept) + "\n")
    with pytest.raises(CallRefused, match="has no run"):
        sheet(root, "soil-logger", 2, DAY)
    assert "a panel" in page_of(root).text_content()
