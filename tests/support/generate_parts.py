"""Cases, nozzles, parts and tapes of generated shops."""

from dataclasses import dataclass
from random import Random
from typing import Any

Document = dict[str, Any]

_PIN1_DEG = {"left": 180, "upper_left": 135}
_IN_TAPE_DEG = {"holes": 90, "plain_edge": 270, "q1": 135, "q2": 45, "q3": 225, "q4": 315}


@dataclass(frozen=True)
class Case:
    """A case shape at level A, with the tape that such parts come on; mm and mg."""

    name: str
    letter: str
    body: tuple[float, float]
    height: float
    terminals: int
    mass_mg: float
    tape_mm: tuple[int, int]
    pin1: str | None = None
    means: str | None = None
    terminal: float | None = None


CASES = (
    Case("chip-0402", "R", (1.0, 0.5), 0.35, 2, 0.6, (8, 2)),
    Case("chip-0603", "R", (1.6, 0.8), 0.45, 2, 2.0, (8, 4)),
    Case("chip-0805", "C", (2.0, 1.25), 0.6, 2, 5.5, (8, 4)),
    Case("chip-1206", "C", (3.2, 1.6), 0.65, 2, 10.0, (8, 4)),
    Case("led-0603", "D", (1.6, 0.8), 0.6, 2, 2.0, (8, 4), "left", "cathode"),
    Case("sod-123", "D", (2.7, 1.6), 1.1, 2, 10.0, (8, 4), "left", "cathode"),
    Case("sma", "D", (4.3, 2.6), 2.2, 2, 65.0, (12, 4), "left", "cathode"),
    Case("sot-23", "Q", (1.3, 2.9), 1.0, 3, 8.0, (8, 4), "upper_left", "pin 1", 0.4),
    Case("soic-8", "U", (3.9, 4.9), 1.6, 8, 75.0, (12, 8), "upper_left", "pin 1", 0.4),
    Case("tssop-16", "U", (4.4, 5.0), 1.1, 16, 60.0, (12, 8), "upper_left", "pin 1", 0.24),
    Case("lqfp-48", "U", (7.0, 7.0), 1.6, 48, 180.0, (16, 12), "upper_left", "pin 1", 0.22),
    Case("can-6x5", "C", (6.6, 6.6), 5.4, 2, 400.0, (16, 12), "left", "minus"),
    Case("coil-4x4", "L", (4.0, 4.0), 2.0, 2, 110.0, (12, 8)),
)
"""Round figures of usual cases; they need to be consistent here, not exact."""

_NOZZLES = {
    "bore-0-25": (0.42, 0.25, -32.0),
    "bore-0-4": (0.7, 0.4, -28.0),
    "bore-0-7": (1.1, 0.7, -22.0),
    "bore-1-2": (2.0, 1.2, -18.0),
    "bore-2-2": (3.5, 2.2, -15.0),
}
"""Name -> outer diameter of the tip, bore (mm), pressure when empty (kPa)."""


def _nozzle_for(case: Case) -> str:
    """The widest tip that the body covers."""
    return [name for name, (tip, _, _) in _NOZZLES.items() if tip <= min(case.body)][-1]


def make_nozzles(cases: list[Case]) -> Document:
    """Return the nozzles that the cases need."""
    needed = {_nozzle_for(case) for case in cases}
    return {
        name: {
            "tip_outer_mm": tip,
            "bore_mm": bore,
            "length_mm": 12.0,
            "empty_kpa": empty,
            "held_kpa": -45.0,
        }
        for name, (tip, bore, empty) in _NOZZLES.items()
        if name in needed
    }


def make_outlines(cases: list[Case], nozzles: Document) -> Document:
    """Return the outline of each case."""
    return {case.name: _make_outline(case, nozzles) for case in cases}


def _make_outline(case: Case, nozzles: Document) -> Document:
    outline: Document = {
        "body_mm": list(case.body),
        "height_mm": case.height,
        "terminals": case.terminals,
        "polarised": case.pin1 is not None,
        "zero": "A",
        "mass_mg": case.mass_mg,
        "nozzles": [name for name in nozzles if name == _nozzle_for(case)],
        "recognition": f"see-{case.name}",
    }
    if case.pin1:
        outline |= {"pin1_means": case.means, "pin1_at_zero": case.pin1}
    if case.terminal:
        outline["terminal_mm"] = case.terminal
    return outline


def make_parts(draw: Random, cases: list[Case], count: int) -> Document:
    """Return parts by name, each case in use as long as there are parts enough."""
    chosen = [*cases[:count], *draw.choices(cases, k=max(0, count - len(cases)))]
    numbers = draw.sample(range(1000, 10_000), count)
    return {
        f"{case.letter.lower()}{number}-{case.name}": {
            "outline": case.name,
            "value": f"{number / 1000:g}k",
            "maker_number": f"{number}-{case.terminals:02}",
        }
        for case, number in zip(chosen, numbers, strict=True)
    }


def make_tape(draw: Random, case: Case) -> tuple[Document, int]:
    """Return a tape and the attitude in its pocket (tape frame, degrees).

    Two-terminal parts lie with their long side across the tape, as chips come.
    """
    width, pitch = case.tape_mm
    pockets = draw.choice([1, 1, 2]) if pitch == 2 else 1
    attitude = 90
    tape: Document = {
        "width_mm": width,
        "pocket_pitch_mm": pitch,
        "advance_mm": pitch * pockets,
        "pockets_per_advance": pockets,
    }
    if case.pin1:
        corner = case.pin1 == "upper_left"
        tape["pin1"] = draw.choice(["q1", "q3"] if corner else ["holes", "plain_edge"])
        attitude = _IN_TAPE_DEG[tape["pin1"]] - _PIN1_DEG[case.pin1]
    along, across = case.body if attitude % 180 == 0 else case.body[::-1]
    tape["pocket_mm"] = [round(along + 0.2, 2), round(across + 0.2, 2)]
    tape["pocket_depth_mm"] = round(case.height + 0.15, 2)
    return tape, attitude
