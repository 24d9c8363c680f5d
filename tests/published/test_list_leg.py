"""The list leg against the outside: a published component layer, and footprints of a library.

Layer: the worked component of the Gerber Layer Format Specification, section 6.9. Footprints: body
and pad 1 at rotation 0 of Debian's kicad-footprints 6.0.11-1. Turns: `scipy.spatial.transform`.
"""

import json

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.polarity import Proof
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import edited

LAYER = """%TF.FileFunction,Component,L1,Top*%
%FSLAX46Y46*%
%MOMM*%
%TA.AperFunction,ComponentMain*%
%ADD10C,0.300000*%
%TA.AperFunction,ComponentPin*%
%ADD11P,0.360000X4X0.000000*%
%TD.AperFunction*%
D10*
%TO.C,R301*%
%TO.CFtp,R_0805_2012Metric*%
%TO.CVal,4K7*%
%TO.CMnt,SMD*%
%TO.CRot,ROTATION*%
X218250000Y-73000000D03*
D11*
%TO.P,R301,1*%
X218250000Y-72045000D03*
%TO.P,R301,2*%
X218250000Y-73955000D03*
%TD*%
M02*
"""
CENTRE, PIN_1 = np.array([218.25, -73.0, 0]), np.array([218.25, -72.045, 0])

FOOTPRINTS = {
    "D_SOD-123": ([2.8, 1.8], 2, "left"),
    "D_SOD-323": ([1.8, 1.4], 2, "left"),
    "D_SMA": ([4.6, 3.0], 2, "left"),
    "LED_0603_1608Metric": ([1.6, 0.8], 2, "left"),
    "SOT-23": ([1.3, 2.9], 3, "upper_left"),
    "SOIC-8_3.9x4.9mm_P1.27mm": ([3.9, 4.9], 8, "upper_left"),
    "TSSOP-16_4.4x5mm_P0.65mm": ([4.4, 5.0], 16, "upper_left"),
    "LQFP-100_14x14mm_P0.5mm": ([14, 14], 100, "upper_left"),
}
"""Footprint -> body, terminals, pad 1 (of the last one: left side, at its top)."""


def with_layer(layer: str, side: str = "top") -> Shop:
    """A shop whose only list is a component layer."""
    outline = {
        "body_mm": [2.0, 1.25],
        "terminals": 2,
        "polarised": True,
        "pin1_at_zero": "left",
        "pin1_means": "pin 1",
        "pad1_means": "pin 1",
    }
    files: dict[str, object] = {}
    files["shop.yaml"] = {
        "describes": "shop",
        "edition": 1,
        "machine": "placer.yaml",
        "parts": ["parts.yaml"],
        "feeders": ["feeders.yaml"],
        "jobs": ["jobs/*/job.yaml"],
    }
    files["parts.yaml"] = {
        "describes": "parts",
        "edition": 1,
        "outlines": {"R_0805_2012Metric": {**outline, "zero": "A"}},
        "parts": {"4K7": {"outline": "R_0805_2012Metric", "value": "4K7"}},
    }
    files["feeders.yaml"] = {"describes": "feeders", "edition": 1, "feeders": {}}
    files["placer.yaml"] = {
        "describes": "machine",
        "edition": 1,
        "travel": {"x": [0, 500], "y": [0, 500], "z": [-30, 0]},
        "traverse_z": -2,
    }
    files["jobs/a/job.yaml"] = {
        "describes": "job",
        "edition": 1,
        "side": side,
        "board": {"size_mm": [297, 210]},
        "seat": {"x": 0, "y": 0, "z": 0},
        "placements": {"file": "board.gbr"},
    }
    held = {name: json.dumps(content).encode() for name, content in files.items()}
    held["jobs/a/board.gbr"] = layer.encode()
    reading = read_shop(State("layer", HeldFiles(held), "layer"))
    assert not reading.faults, reading.faults
    assert reading.shop is not None
    return reading.shop


@pytest.mark.parametrize(("rotation", "off"), [(-90, 0), (270, 0), (90, 180), (0, 90), (180, -90)])
def test_the_published_component(rotation: int, off: float) -> None:
    shop = with_layer(LAYER.replace("ROTATION", str(rotation)))
    leg = Facts(shop).polarity.listing("a", "R301")
    assert (leg.proof, leg.off) == (Proof.CONTRADICTED if off else Proof.PROVEN, off)
    arm = Rotation.from_euler("z", rotation - off, degrees=True).apply([-0.955, 0, 0])
    assert np.allclose(CENTRE + arm, PIN_1)


def test_the_published_component_goes_where_the_layer_says() -> None:
    found = chain(Facts(with_layer(LAYER.replace("ROTATION", "-90"))), "a", "R301")
    assert np.allclose(found.machine.point, CENTRE[:2])
    assert found.pin1_faces == 90, "pin 1 lies above the centre"


@pytest.mark.parametrize(("rotation", "missing"), [(90, 0), (-90, 180), (0, 90), (180, -90)])
def test_the_same_component_on_the_bottom(rotation: int, missing: int) -> None:
    """Drawn at 0 there it is the top's mirrored at the x axis (5.6.16), then it is turned.

    Seen from the top the pad lies `missing` further than the rotation says; seen from below, where
    the part is placed, that is the other way round.
    """
    drawn = np.array([-0.955, 0, 0]) * [1, -1, 1]
    arm = Rotation.from_euler("z", rotation + missing, degrees=True).apply(drawn)
    x, y = (round(value * 1e6) for value in (CENTRE + arm)[:2])
    layer = LAYER.replace("L1,Top", "L2,Bot").replace("ROTATION", str(rotation))
    layer = layer.replace("X218250000Y-72045000", f"X{x}Y{y}")
    leg = Facts(with_layer(layer, "bottom")).polarity.listing("a", "R301")
    assert (leg.proof is Proof.PROVEN, leg.off) == (missing == 0, missing)


@pytest.mark.parametrize("name", FOOTPRINTS)
@pytest.mark.parametrize(("level", "proof"), [("A", Proof.PROVEN), ("B", Proof.CONTRADICTED)])
def test_footprints_of_a_library_are_drawn_at_level_a(name: str, level: str, proof: Proof) -> None:
    body, terminals, pad_1 = FOOTPRINTS[name]
    outline = {
        "body_mm": body,
        "terminals": terminals,
        "polarised": True,
        "pin1_at_zero": pad_1,
        "pad1_at_zero": pad_1,
        "pin1_means": "pin 1",
        "pad1_means": "pin 1",
        "zero": "A",
    }
    edits = (
        f"outlines.from-library: {json.dumps(outline)}\n"
        "parts.diode-sod123.outline: from-library\n"
        f"jobs.first-board.placements.zero: {level}"
    )
    shop = edited(edits).shop
    assert shop is not None
    assert Facts(shop).polarity.drawing("first-board", "D1").proof is proof
