"""Two opposite angles are never both proven: over all chains that a shop can describe.

Each pair is one part with one piece of evidence (the pad of its row, a look, a day, its footprint,
nothing), listed, drawn or picked at an angle and half a turn from it.
"""

import itertools
import json
import math

import pytest

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import look_fingerprint
from jobcheck.facts.polarity import Legs, Proof
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import PIN1_AT_ZERO, PIN1_IN_TAPE
from tests.support.edited import edited_shop

BOTTOMS = (None, "as-placed", "through-top-mirrored-y", "through-top-mirrored-x")
POSITIONS = (None, "as-placed")
LEVELS = (None, "A", "B")
SIDES = [(None, None), *itertools.product(BOTTOMS[1:], POSITIONS)]
MEANS = [("cathode", "cathode"), ("cathode", "anode"), ("cathode", None), (None, None)]
ANGLES = range(0, 360, 45)
OPPOSITE = {
    pin: next(p for p, q in PIN1_AT_ZERO.items() if (q - angle) % 360 == 180)
    for pin, angle in PIN1_AT_ZERO.items()
}


def outline(pin: str, pad: str | None, level: str | None, means: tuple[str | None, str | None]):
    named = dict(zip(("pin1_means", "pad1_means"), means, strict=True))
    drawn = {"pin1_at_zero": pin, "pad1_at_zero": pad, "zero": level, **named}
    terminals = 2 if pin in ("left", "right", "top", "bottom") else 8
    return {
        "body_mm": [2, 1.5],
        "terminals": terminals,
        "polarised": True,
        **{key: value for key, value in drawn.items() if value},
    }


def feeder(part: str, pick: float):
    return {
        "part": part,
        "carrier": "tape",
        "tape": {"width_mm": 8, "pocket_pitch_mm": 4, "advance_mm": 4, "pin1": "holes"},
        "feed_direction": 90,
        "reel": {"orientation_seen": "2026-11-02"},
        "pick": {"x": 20, "y": 8, "z": -18, "rotation": pick},
    }


def shop_of(outlines, placements, job, feeders=None) -> Shop:
    side = "bottom" if job.get("bottom") else "top"
    rows = {name: {**row, "side": side} for name, row in placements.items()}
    blocks = {
        "outlines": outlines,
        "recognitions": {},
        "parts": {name: {"outline": name} for name in outlines},
        "feeders": feeders or {},
        "jobs": {
            "j": {
                "describes": "job",
                "edition": 1,
                "side": side,
                "board": {"size_mm": [60, 40]},
                "seat": {"x": 150, "y": 210, "z": -20},
                "placements": {**{k: v for k, v in job.items() if v}, **rows},
            }
        },
    }
    return edited_shop("".join(f"{key}: {json.dumps(value)}\n" for key, value in blocks.items()))


def legs_of(shop: Shop, reference: str) -> Legs:
    return Facts(shop).polarity.legs("j", reference)


@pytest.mark.parametrize("zero", LEVELS)
@pytest.mark.parametrize(("bottom", "positions"), SIDES)
def test_listings(bottom: str | None, positions: str | None, zero: str | None) -> None:
    """Pairs of rows with one pad, with one look, and with nothing, half a turn apart."""
    pins = ("left", "upper_left")
    drawn = [
        (pin, pad, level, means)
        for pin, level, means in itertools.product(pins, (None, "A"), MEANS)
        for pad in (None, pin)
    ]
    outlines = {f"o{at}": outline(*each) for at, each in enumerate(drawn)}
    rows = {}
    for (at, (pin, *_)), r in itertools.product(enumerate(drawn), (0, 90)):
        arm = math.radians(PIN1_AT_ZERO[pin] + r)
        for half, evidence in itertools.product((0, 180), ("pad", "look", "none")):
            row = {"part": f"o{at}", "x": 30, "y": 20, "rotation": r + half}
            if evidence == "pad":
                row |= {"pin1_x": 30 + math.cos(arm), "pin1_y": 20 + math.sin(arm)}
            rows[f"{evidence}-{half}-{at}-{r}"] = row
    job = {"zero": zero, "bottom": bottom, "bottom_positions": positions}
    looked = {name: row for name, row in rows.items() if name.startswith("look-0-")}
    before = shop_of(outlines, looked, job)
    listing = before.jobs["j"].placements
    under: dict[str, str] = {}
    for name, row in looked.items():
        mark = look_fingerprint(
            listing.by_reference[name], before.outlines[str(row["part"])], listing
        )
        under |= {name: mark, name.replace("look-0-", "look-180-"): mark}
    look = {"date": "2026-11-20", "under": under}
    polarity = Facts(shop_of(outlines, rows, {**job, "pin1_checked": look})).polarity
    proven = {name for name in rows if polarity.listing("j", name).proof is Proof.PROVEN}
    opposite = {name.replace("-0-", "-180-", 1) for name in proven if name.split("-")[1] == "0"}
    both = sorted(opposite & proven)
    assert not both
    assert set(looked) <= proven, "a look that fits proves"
    assert not {name for name in proven if name.startswith("none-")}


@pytest.mark.parametrize("means", MEANS)
@pytest.mark.parametrize(("level", "zero"), [(a, b) for a, b in itertools.product(LEVELS, LEVELS)])
def test_drawings(means, level, zero) -> None:
    """One footprint, two drawings half a turn apart; and two names of pin 1."""
    outlines = {}
    for pin, pad in itertools.product(PIN1_AT_ZERO, PIN1_AT_ZERO):
        outlines[f"{pin}-{pad}-0"] = outline(pin, pad, level, means)
        outlines[f"{pin}-{pad}-180"] = outline(OPPOSITE[pin], pad, level, means)
    rows = {name: {"part": name, "x": 30, "y": 20, "rotation": 0} for name in outlines}
    polarity = Facts(shop_of(outlines, rows, {"zero": zero})).polarity
    proven = {name for name in rows if polarity.drawing("j", name).proof is Proof.PROVEN}
    assert not {name for name in proven if name.endswith("-0") and f"{name[:-2]}-180" in proven}
    other = {"cathode": "anode", "anode": "cathode"}
    turned = {
        name: {**drawn, "pin1_means": other[drawn["pin1_means"]]}
        for name, drawn in outlines.items()
        if drawn.get("pin1_means") in other and drawn["terminals"] == 2
    }
    if turned:
        polarity = Facts(shop_of(turned, {n: rows[n] for n in turned}, {"zero": zero})).polarity
        assert not {n for n in turned if polarity.drawing("j", n).proof is Proof.PROVEN} & proven


@pytest.mark.parametrize("pin", PIN1_AT_ZERO)
def test_feeds(pin: str) -> None:
    parts = {pin: outline(pin, pin, "A", ("cathode", "cathode"))}
    feeders = {}
    for place, pick in itertools.product(PIN1_IN_TAPE, range(0, 720, 30)):
        described = feeder(pin, pick - 180)
        described["tape"]["pin1"] = place
        feeders[f"{place}-{pick}"] = described
    polarity = Facts(shop_of(parts, {}, {"zero": "A"}, feeders)).polarity
    proven = {name for name in feeders if polarity.feeder(name).proof is Proof.PROVEN}
    for name in proven:
        at, stated = name.rsplit("-", 1)
        assert f"{at}-{int(stated) + 180}" not in proven
    assert proven


def test_a_look_at_one_convention_is_none_at_another() -> None:
    """The issue's diode: a look under one bottom convention, read under another."""
    parts = {"d": outline("left", "left", "A", ("cathode", "cathode"))}
    rows = {"D1": {"part": "d", "x": 30, "y": 20, "rotation": 0}}
    proofs = {}
    for bottom in BOTTOMS[1:]:
        listing = shop_of(parts, rows, {"zero": "A", "bottom": "as-placed"}).jobs["j"].placements
        shop = shop_of(parts, rows, {"zero": "A", "bottom": bottom})
        mark = look_fingerprint(listing.by_reference["D1"], shop.outlines["d"], listing)
        look = {"date": "2026-11-20", "under": {"D1": mark}}
        job = {"zero": "A", "bottom": bottom, "pin1_checked": look}
        proofs[bottom] = legs_of(shop_of(parts, rows, job), "D1").listing.proof
    assert proofs == {
        "as-placed": Proof.PROVEN,
        "through-top-mirrored-y": Proof.UNKNOWN,
        "through-top-mirrored-x": Proof.UNKNOWN,
    }


def test_a_footprint_alone_proves_no_angle() -> None:
    parts = {"d": outline("left", "left", "A", ("cathode", "cathode"))}
    for rotation in ANGLES:
        rows = {"D1": {"part": "d", "x": 30, "y": 20, "rotation": rotation}}
        found = legs_of(shop_of(parts, rows, {"zero": "A"}, {"f": feeder("d", 0)}), "D1")
        assert (found.drawing.proof, found.listing.proof, found.verdict) == (
            Proof.PROVEN,
            Proof.UNKNOWN,
            Proof.UNKNOWN,
        )
