"""Pages as a browser shows them: turned over, followed from finding to part, printed."""

import re
from datetime import date
from pathlib import Path as FilePath

import pytest
from lxml import html

from jobcheck.commands.picture import BoardPicture, board_picture
from jobcheck.commands.sheet import sheet
from jobcheck.facts.board_view import board_view
from jobcheck.reports.calls import Call
from jobcheck.reports.pages import pictures
from jobcheck.reports.pages.sheet import sheet_page
from tests.golden.play import EXAMPLES
from tests.pages.browser import browse, needs_browser
from tests.pages.test_board import LIST, sides
from tests.support.edited import edited_shop

pytestmark = needs_browser
DAY = date(2026, 11, 25)


def dom(tmp_path: FilePath, page: str, script: str = "") -> html.HtmlElement:
    """Return the page as it is after a script that acts as the user."""
    file = tmp_path / "page.html"
    file.write_text(page.replace("</body>", f"<script>{script}</script></body>"))
    return html.fromstring(browse(file, tmp_path / "profile", "--dump-dom"))


def two_sides() -> str:
    shop = edited_shop(
        next(sides()) + f"{LIST}.D2: {{part: diode-sod123, x: 20, y: 20, side: bottom}}\n"
    )
    views = tuple(board_view(shop, "first-board", side) for side in ("top", "bottom"))
    return pictures.board(BoardPicture(shop, "first-board", views, (), 0), Call()).html()


def shown(tree: html.HtmlElement) -> list[str]:
    return [one.get("data-side") for one in tree.xpath("//*[@data-side][not(@hidden)]")]


def test_one_side_at_a_time(tmp_path: FilePath) -> None:
    page = two_sides()
    assert shown(html.fromstring(page)) == ["top", "bottom"], "without the script both are there"
    assert shown(dom(tmp_path, page)) == ["top"]
    turn = "document.querySelector('[data-side]:not([hidden]) h2 + button').click();"
    turned = dom(tmp_path, page, turn)
    assert shown(turned) == ["bottom"]
    assert shown(dom(tmp_path, page, turn * 2)) == ["top"]


def test_a_drawing_is_made_larger_and_smaller_again(tmp_path: FilePath) -> None:
    page = two_sides()
    press = "[...document.querySelectorAll('button')].find((b) => b.textContent === '{}').click();"
    larger, smaller = press.format("Larger"), press.format("Smaller")
    widths = [
        dom(tmp_path, page, script).xpath("string((//figure//svg)[1]/@style)")
        for script in (larger * 2, larger * 2 + smaller * 5)
    ]
    assert widths == ["width: 256%;", "width: 100%;"]


def test_a_finding_leads_to_its_parts(tmp_path: FilePath) -> None:
    found = board_picture(EXAMPLES / "soil-logger-drifted", "soil-logger", DAY)
    page = pictures.board(found, Call()).html()
    rules = [one.finding.rule for one in found.concerns]
    number = rules.index("pick-rotation-wrong") + 1
    script = f"location.hash = 'finding-{number}'; dispatchEvent(new Event('hashchange'));"
    tree = dom(tmp_path, page, script)
    marked = tree.xpath("//g[contains(concat(' ', @class, ' '), ' on ')]/text[1]/text()")
    assert list(marked) == ["D1", "D2"]


def test_the_sheet_prints(tmp_path: FilePath) -> None:
    file, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    file.write_text(sheet_page(sheet(EXAMPLES / "soil-logger", "soil-logger", None, DAY)))
    browse(file, tmp_path / "profile", "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))
    assert 3 <= pages <= 8


@pytest.mark.parametrize(
    ("more", "is_blocked"),
    [("", False), ("<img src='http://localhost:9/'>", True), ("<iframe src='x'></iframe>", True)],
)
def test_a_page_needs_nothing_that_its_own_policy_blocks(
    tmp_path: FilePath, more: str, is_blocked: bool
) -> None:
    probe = (
        "<script>document.addEventListener('securitypolicyviolation', () => {"
        "document.documentElement.lang = 'blocked'; });</script><title>"
    )
    page = two_sides().replace("<title>", probe, 1).replace("</main>", f"{more}</main>")
    assert (dom(tmp_path, page).get("lang") == "blocked") is is_blocked
