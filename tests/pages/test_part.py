"""How one part lies: pin 1 is followed from the pocket to the pad as `where` computes it."""

from pathlib import Path as FilePath
from typing import Any

import pytest
from lxml import html

from jobcheck.commands.picture import PartPicture, part_picture
from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import pin1_faces_at_pick
from jobcheck.findings import CallRefused
from jobcheck.reports.pages import pictures
from jobcheck.trade.plane import wrap
from tests.golden.play import EXAMPLES
from tests.pages.test_sheet import drawn_pin1

SHOP = EXAMPLES / "soil-logger"


def drawings(found: PartPicture) -> list[html.HtmlElement]:
    """Return the four drawings."""
    page: Any = html.fromstring(pictures.part(found).html())
    return list(page.xpath("//figure//svg"))


def polarised() -> list[str]:
    facts = Facts(part_picture(SHOP, "soil-logger", "D1").shop)
    return [reference for reference, _ in facts.polarity.polarised("soil-logger")]


def assert_near(drawn: float | None, computed: float | None) -> None:
    """The middle of the mark is within 45 degrees of the direction of its pin, on its side."""
    assert drawn is not None
    assert computed is not None
    assert abs(wrap(drawn - computed)) < 45


def test_pin_1_is_followed() -> None:
    names = polarised()
    assert len(names) == 18
    for reference in names:
        found = part_picture(SHOP, "soil-logger", reference)
        pocket, nozzle, turn, pad = map(drawn_pin1, drawings(found))
        assert found.take is not None
        assert found.carried is not None
        assert found.take.turn is not None
        assert nozzle is not None
        if found.carried.feeder.carrier != "tray":
            assert_near(pocket, pin1_faces_at_pick(found.shop, found.take.feeder))
        assert_near(turn, found.chain.pin1_faces)
        assert_near(pad, found.chain.pin1_faces)
        assert_near(nozzle + found.take.turn, pad)


def test_a_contradicted_pick_is_seen() -> None:
    found = part_picture(EXAMPLES / "soil-logger-drifted", "soil-logger", "D1")
    pocket, nozzle, *_ = map(drawn_pin1, drawings(found))
    assert pocket is not None
    assert nozzle is not None
    assert abs(wrap(pocket - nozzle)) == pytest.approx(180)
    page = pictures.part(found).html()
    assert "By the carrier it is turned 90; pick.rotation states 270." in page


def test_unknown_is_said_and_not_drawn(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    lines = feeders.read_text().splitlines()
    at = lines.index("  f12:")
    pick = next(n for n in range(at, len(lines)) if "pick:" in lines[n])
    feeders.write_text("\n".join(lines[:pick] + lines[pick + 1 :]) + "\n")
    found = part_picture(root, "soil-logger", "D1")
    assert found.carried is not None
    assert found.carried.attitude is None
    pocket, nozzle, turn, pad = map(drawn_pin1, drawings(found))
    assert (pocket, nozzle, turn) == (None, None, None)
    assert_near(pad, found.chain.pin1_faces)
    assert "Attitude at pick is unknown." in pictures.part(found).html()


def test_a_part_without_an_outline_is_refused(root: FilePath) -> None:
    listing = root / "jobs/soil-logger/placements.csv"
    listing.write_text(listing.read_text().replace("D1,diode-fast-sod123", "D1,"))
    with pytest.raises(CallRefused, match="outline of D1"):
        part_picture(root, "soil-logger", "D1")
