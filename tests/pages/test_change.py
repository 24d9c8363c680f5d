"""A change as it is drawn: old and new place of each part, and an arrow between."""

from pathlib import Path as FilePath

from lxml import etree

from jobcheck.commands.picture import ChangePicture, change_picture
from jobcheck.facts.board_view import board_view
from jobcheck.reports.pages import pictures
from tests.pages.reading import SVG, moved, root_of


def drawn(root: FilePath, old: str, new: str) -> tuple[ChangePicture, etree._Element]:
    found = change_picture(root, "soil-logger", old, new)
    return found, root_of(pictures.change(found))


def move(root: FilePath) -> None:
    """Move and turn D1, turn U3, leave C31 out."""
    listing = root / "jobs/soil-logger/placements.csv"
    rows = [row.split(",") for row in listing.read_text().splitlines()]
    changed = {"D1": ["8.00", "27.60", "270"], "U3": ["31.00", "18.00", "45"]}
    kept = [[*row[:2], *changed.get(row[0], row[2:5]), *row[5:]] for row in rows if row[0] != "C31"]
    listing.write_text("\n".join(map(",".join, kept)) + "\n")


def test_old_and_new_are_where_each_state_has_them(root: FilePath) -> None:
    move(root)
    found, picture = drawn(root, "good", "now")
    height = found.sides[0].after.board[1]
    for look, shop in (("old", found.compared.old_shop), ("new", found.compared.new_shop)):
        there = {body.reference: body for body in board_view(shop, "soil-logger", "top").bodies}
        uses = {
            use.getparent().getparent().findtext(f"{SVG}text"): use
            for use in picture.iterfind(f".//{SVG}g[@class='{look}']/{SVG}use")
        }
        assert set(uses) == ({"D1", "U3", "C31"} if look == "old" else {"D1", "U3"})
        for reference, use in uses.items():
            pose = there[str(reference)].pose
            assert pose.angle is not None
            (x, y, turn), _ = moved(use.get("transform", ""))
            assert (x, height - y) == pose.point
            assert (turn + pose.angle) % 360 == 0


def test_arrows_and_words(root: FilePath) -> None:
    move(root)
    found, picture = drawn(root, "good", "now")
    arrows = picture.findall(f".//{SVG}path[@class='arrow']")
    assert len(arrows) == 2, "C31 is gone: nothing to point at"
    page = pictures.change(found).html()
    assert "D1 moved by 3.8, 5 mm and turned by 180." in page
    assert "U3 turned by -45." in page
    assert "No longer placed: C31." in page


def test_a_camera_lost_reaches_parts_and_placements(root: FilePath) -> None:
    machine = root / "placer.yaml"
    text = machine.read_text()
    start = text.index("      exposure_time_absolute: 100")
    machine.write_text(text[:start] + text[text.index("\n", start) + 1 :])
    found, _ = drawn(root, "good", "now")
    (remark,) = pictures.change(found).remarks
    (reached,) = found.compared.groups[0].impact.jobs
    assert remark.message == "cameras.up: 1 value changed"
    assert len(remark.ids) == len(reached.references) > 70
    assert ("was", "cameras.up.controls.exposure_time_absolute: 100 = 10 ms became missing") in (
        remark.lines
    )


def test_nothing_moved(root: FilePath) -> None:
    found, picture = drawn(root, "good", "now")
    assert not picture.findall(f".//{SVG}g[@class='old']")
    assert "No part has moved or turned on this side." in pictures.change(found).html()
