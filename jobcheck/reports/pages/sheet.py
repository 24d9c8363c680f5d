"""The run sheet: one page for paper, black on white."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from markupsafe import Markup

from jobcheck.commands.sheet import CAUTION, Sheet, SheetFeeder, SheetPlacement
from jobcheck.facts.board_view import Spot
from jobcheck.facts.polarity import Proof
from jobcheck.reports.pages.arrows import pointer
from jobcheck.reports.pages.board import SEEN
from jobcheck.reports.pages.bodies import glyph
from jobcheck.reports.pages.drawing import filled
from jobcheck.reports.pages.page import drawn
from jobcheck.reports.pages.pocket import (
    HALF,
    SIDES,
    feed_sentence,
    pin1_sentence,
    pocket_values,
)
from jobcheck.trade.plane import wrap
from jobcheck.wording import count, number

_PART, _REACH = 120.0, 104.0
_LOOKS = (
    "Every reel, tape and tray is the one on this sheet, turned as drawn",
    "The nozzles are in the rack and on the spindles as on this sheet",
    "The board is seated the right way round; fiducials are clean",
    "Cameras were seen today: jobcheck seen",
    "Go or no-go was asked today: jobcheck preflight {job}",
    "First board: every polarised part is as drawn",
)


def sheet_page(sheet: Sheet) -> str:
    """Return the sheet as one self-contained page."""
    return filled(
        "sheet.html",
        title=f"Run sheet: {sheet.job} of {sheet.shop.name}",
        head=list(_head(sheet)),
        state=sheet.state,
        cautions=CAUTION,
        feeders=[_feeder(one) for one in sheet.feeders],
        without=sheet.without_feeder,
        nozzles=list(_nozzles(sheet)),
        fiducials=list(_fiducials(sheet)),
        seen=SEEN[sheet.view.side],
        half_turned=[cell.name for cell in sheet.view.cells if cell.turn],
        polarised=[_polarised(one) for one in sheet.polarised],
        ends=list(_ends(sheet)),
        looks=[look.format(job=sheet.job) for look in _LOOKS],
        half=HALF,
    )


def _head(sheet: Sheet) -> Iterator[str]:
    panels = "no run planned" if sheet.panels is None else count(sheet.panels, "panel")
    skipped = [cell.name for cell in sheet.view.cells if cell.is_skipped]
    yield f"{sheet.view.side.capitalize()} side; {panels}, {count(sheet.boards, 'board')} each."
    if skipped:
        yield f"Skipped cells: {', '.join(skipped)}."
    if sheet.view.not_fitted:
        yield f"Not fitted: {', '.join(sheet.view.not_fitted)}."
    yield f"Printed from the description on {sheet.day}."


def _feeder(one: SheetFeeder) -> dict[str, Any]:
    feeder = one.carried.feeder
    place = "not in a row" if feeder.row is None else f"{feeder.row} {feeder.slot or ''}".strip()
    drawing = pocket_values(one.carried, one.outline) | {"pointer": None}
    sentences = (pin1_sentence(one.carried, one.outline), feed_sentence(one.carried))
    return {
        "name": one.carried.name,
        "place": place,
        "drawing": drawn("pocket.svg", **drawing),
        "says": " ".join(filter(None, sentences)),
        "carrier": _carrier(one),
        "part": feeder.part,
        "value": one.value,
        "needed": _needed(one),
        "others": one.others,
    }


def _carrier(one: SheetFeeder) -> str:
    feeder = one.carried.feeder
    tape = feeder.tape
    if tape is None:
        return feeder.carrier
    return (
        f"{feeder.carrier} {number(tape.width_mm)} mm, pitch {number(tape.pocket_pitch_mm)} mm, "
        f"advance {number(tape.advance_mm)} mm"
    )


def _needed(one: SheetFeeder) -> str:
    return f"{one.per_panel} a panel" if one.supply is None else f"{one.supply.needed:,}"


def _nozzles(sheet: Sheet) -> Iterator[str]:
    machine = sheet.shop.machine
    if machine is None:
        return
    for name, spindle in machine.spindles.items():
        yield f"Spindle {name}: {_nozzle(sheet, spindle.carries)}"
    for name, place in machine.rack.items():
        yield f"Rack place {name}: {_nozzle(sheet, place.nozzle)}"


def _nozzle(sheet: Sheet, name: str | None) -> str:
    if name is None:
        return "no nozzle described"
    known = sheet.shop.machine.nozzles.get(name) if sheet.shop.machine else None
    return f"{name}, tip {number(known.tip_outer_mm)} mm" if known else name


def _fiducials(sheet: Sheet) -> Iterator[str]:
    view = sheet.view
    yield from (_fiducial("Panel", spot) for spot in view.panel_fiducials)
    yield from (_fiducial("Board", spot) for spot in view.fiducials)


def _fiducial(what: str, spot: Spot) -> str:
    x, y = map(number, spot.centre)
    return f"{what} {spot.name}: x {x}, y {y} from the lower left, {number(spot.diameter)} mm"


def _polarised(one: SheetPlacement) -> dict[str, Any]:
    body = one.body
    x, y = number(round(body.pose.x, 2)), number(round(body.pose.y, 2))
    return {
        "reference": body.reference,
        "part": body.part,
        "drawing": _as_placed(one),
        "says": pin1_on_board(one),
        "at": f"x {x}, y {y}",
        "doubt": "" if one.legs.verdict is Proof.PROVEN else _doubt(one),
    }


def _doubt(one: SheetPlacement) -> str:
    verdict = one.legs.verdict
    word = "only declared" if verdict is Proof.DECLARED else verdict.value
    return f"Polarity {word}: {one.legs.weakest}"


def pin1_on_board(one: SheetPlacement) -> str:
    """Say where pin 1 must be on the board, seen from the side being placed."""
    if one.body.pin1 is None:
        return "Where pin 1 must be is unknown: look at the board's drawing."
    means = one.outline.pin1_means
    named = f" ({means})" if means and means != "pin 1" else ""
    way = wrap(one.body.pin1) % 360
    if way % 45:
        return f"Pin 1{named} faces {number(round(wrap(way), 2))} degrees; 0 is right."
    return f"Pin 1{named} is at the {SIDES[int(way // 45)]}."


def _as_placed(one: SheetPlacement) -> Markup:
    angle = one.body.pose.angle
    scale = _PART / max(*one.outline.body_mm, *one.outline.size_mm)
    return drawn(
        "turned.svg",
        board=None,
        was=None,
        glyph=glyph(one.outline, scale=scale),
        turn=None if angle is None else -angle + 0.0,
        unknown="angle unknown",
        tip=None,
        pointer=pointer(one.body.pin1, _REACH),
    )


def _ends(sheet: Sheet) -> Iterator[str]:
    """Yield on which panel each reel ends, and what was not counted."""
    for supply in sheet.supplies:
        if supply.uncounted:
            yield f"{supply.part}: not counted, no remaining on {', '.join(supply.uncounted)}"
        elif supply.stops_in is not None:
            names = " and ".join(load.feeder for load in supply.loads)
            yield f"{supply.part} in {names} ends in panel {supply.stops_in}"
