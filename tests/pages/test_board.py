"""The board as it is drawn is the board as `where` computes it."""

import re
from collections.abc import Iterator
from datetime import date
from math import atan2, degrees
from typing import Any

import pytest
from lxml import html

from jobcheck.commands.picture import BoardPicture, Concern, board_picture
from jobcheck.facts.board_view import board_view
from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.reports.calls import Call
from jobcheck.reports.pages import pictures
from jobcheck.reports.pages.pictures import Drawn
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import wrap
from tests.golden.play import EXAMPLES
from tests.pages.reading import SVG, Place, parts_in, root_of, through
from tests.support.edited import edited_shop

DAY = date(2026, 11, 25)
JOB = "jobs.first-board"
LIST = f"{JOB}.placements"
PANEL = f"""
{JOB}.board: {{size_mm: [60, 40], holes: {{h1: {{x: 4, y: 5, diameter_mm: 3}}}}}}
{JOB}.panel: {{columns: 2, rows: 2, pitch_mm: [63, 43], half_turned: [2-1, 1-2]}}
{JOB}.panel.skip: [2-2]
{JOB}.panel.origin_mm: [5, 3]
{JOB}.seat: {{x: 150, y: 210, z: -20, rotation: 90}}
{LIST}: {{zero: B, bottom: CONVENTION, bottom_positions: POSITIONS}}
{JOB}.bill: ~
{LIST}.D1: {{part: diode-sod123, x: 17, y: 11, rotation: 30, side: SIDE}}
{LIST}.U1: {{part: timer-soic8, x: 40, y: 25, rotation: 45, side: SIDE}}
{LIST}.R1: {{part: diode-sod123, x: 7, y: 31, rotation: -90, side: SIDE}}
{JOB}.side: SIDE
"""


def sides() -> Iterator[str]:
    """Yield the panel built on the top, and on the bottom by every convention."""
    yield (
        PANEL.replace("SIDE", "top")
        .replace("CONVENTION", "as-placed")
        .replace("POSITIONS", "through-top")
    )
    for convention in ("as-placed", "through-top-mirrored-y", "through-top-mirrored-x"):
        for positions in ("through-top", "as-placed", "x-negated"):
            yield (
                PANEL.replace("SIDE", "bottom")
                .replace("CONVENTION", convention)
                .replace("POSITIONS", positions)
            )


def drawn(shop: Shop, job: str = "first-board", concerns: tuple[Concern, ...] = ()) -> Drawn:
    """Draw the side that a job builds."""
    view = board_view(shop, job, shop.jobs[job].side)
    return pictures.board(BoardPicture(shop, job, (view,), concerns, 0), Call())


def assert_as_where(drawn: Drawn, shop: Shop, job: str) -> int:
    """Compare every part in every cell of the drawing with the chain; return how many."""
    root, facts, frames = root_of(drawn), Facts(shop), frames_of(shop, job)
    side = shop.jobs[job].side
    (board,) = root.iterfind(f".//{SVG}g[@id='{side}-board']")
    height, high = shop.jobs[job].board.size_mm[1], frames.panel_size[1]
    placed = parts_in(board)
    assert set(placed) == {reference for reference, _ in shop.placed(job)}
    copies = {
        cell.findtext(f"{SVG}title").split(";")[0].removeprefix("cell "): cell.find(f"{SVG}use")
        for cell in root.iter(f"{SVG}g")
        if (cell.findtext(f"{SVG}title") or "").startswith("cell ")
    }
    compared = 0
    for reference, place in placed.items():
        for cell in frames.cells():
            found = chain(facts, job, reference, cell, frames=frames)
            assert_at(place, (found.board.x, height - found.board.y), found.board.angle)
            if cell.name:
                there = through(copies[cell.name].get("transform", ""), place)
                assert_at(there, (found.panel.x, high - found.panel.y), found.panel.angle)
            compared += 1
    return compared


def assert_at(place: Place, point: tuple[float, float], angle: float | None) -> None:
    assert angle is not None
    assert place[:2] == pytest.approx(point, abs=1e-3)
    assert wrap(-place[2] - angle) == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize("edits", list(sides()))
def test_every_placement_is_where_it_is_computed(edits: str) -> None:
    shop = edited_shop(edits)
    assert assert_as_where(drawn(shop), shop, "first-board") == 3 * 4


def test_the_example_is_where_it_is_computed() -> None:
    found = board_picture(EXAMPLES / "soil-logger", "soil-logger", DAY)
    page = pictures.board(found, Call())
    assert assert_as_where(page, found.shop, "soil-logger") == 84 * 6


def test_pin_1_is_drawn_toward_where_it_faces() -> None:
    """The corner or side of the triangle, turned as its part, is in the direction of the chain."""
    shop = edited_shop(next(sides()))
    root = root_of(drawn(shop))
    for reference in ("D1", "U1"):
        found = chain(
            Facts(shop), "first-board", reference, frames_of(shop, "first-board").cell("1-1")
        )
        glyph = root.find(f".//{SVG}g[@id='top-outline-{found.outline}']/{SVG}polygon")
        corners = [tuple(map(float, pair.split(","))) for pair in glyph.get("points").split()]
        assert found.pin1_faces is not None
        assert found.board.angle is not None
        x, y = (sum(values) / 3 for values in zip(*corners, strict=True))
        at_zero = degrees(atan2(-y, x))
        at_board = found.pin1_faces - shop.jobs["first-board"].seat.rotation
        assert abs(wrap(at_zero + found.board.angle - at_board)) < 45


def test_both_sides_are_drawn_one_after_the_other() -> None:
    """The hole through the board is at the other end of the side that is turned over."""
    edits = next(sides()) + f"{LIST}.D2: {{part: diode-sod123, x: 20, y: 20, side: bottom}}\n"
    shop = edited_shop(edits)
    top, bottom = (board_view(shop, "first-board", side) for side in ("top", "bottom"))
    assert [hole.centre for hole in (*top.holes, *bottom.holes)] == [(4, 5), (56, 5)]
    (body,) = bottom.bodies
    assert body.pose.point == (60 - 20, 20)
    assert not bottom.is_built
    page = pictures.board(BoardPicture(shop, "first-board", (top, bottom), (), 0), Call()).html()
    assert page.index("Top, seen from above") < page.index("Bottom, turned over left to right")


def test_texts_of_the_shop_are_escaped() -> None:
    shop = edited_shop(
        next(sides()) + f'{LIST}."<script>R&D": {{part: diode-sod123, x: 1, y: 2}}\n'
    )
    page = drawn(shop)
    assert "<script>R" not in page.html()
    assert "&lt;script&gt;R&amp;D" in page.html()
    assert parts_in(root_of(page))["<script>R&D"][:2] == (1, 40 - 2)


def test_a_finding_is_on_what_it_concerns_and_back() -> None:
    found = board_picture(EXAMPLES / "soil-logger-drifted", "soil-logger", DAY)
    page = pictures.board(found, Call())
    tree = html.fromstring(page.html())
    ids = {one.get("id") for one in tree.iter() if one.get("id")}
    assert len(found.concerns) == 4
    links = [str(one.get("href")) for one in tree.iter("a")]
    assert links
    assert all(link.startswith("#") and link[1:] in ids for link in links)
    (diodes,) = (one for one in found.concerns if one.finding.rule == "pick-rotation-wrong")
    assert set(diodes.references) == {"D1", "D2"}
    number = found.concerns.index(diodes) + 1
    marked: Any = tree.xpath(f"//g[a[@href='#finding-{number}']]/text/text()")
    assert [text for text in map(str, marked) if text.startswith("D")] == ["D1", "D2"]


def test_a_page_is_small_and_asks_nothing_of_the_network() -> None:
    rows = "".join(
        f"{LIST}.R{n}: {{part: diode-sod123, x: {n % 50 + 5}, y: {n // 50}, rotation: 90}}\n"
        for n in range(2000)
    )
    page = drawn(edited_shop(next(sides()) + rows)).html()
    assert len(page.encode()) < 2_000_000
    addresses = set(re.findall(r"https?://[^\"']+", page))
    assert addresses == {"http://www.w3.org/2000/svg"}
    assert not re.search(r"(?:src|href)=\"(?!#)", page)
