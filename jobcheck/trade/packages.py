"""What the name of a footprint says of the part: body, height, terminals, pitch, polarity.

Three sources, the first that gives a value counts: the name of IPC-7351, the sizes written in the
name, and the published nominal size of the family that the name mentions. Lengths are mm; a body is
in the order of the name, for a family as it is drawn at level A (IEC 61188-7).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from jobcheck.trade.cases import CHIP_CASES, IPC_CHIP, chip_code

Pair = tuple[float, float]


class Package(NamedTuple):
    """What a name says; None where it does not. `sources` has a line for each known field."""

    body_mm: Pair | None = None
    height_mm: float | None = None
    terminals: int | None = None
    polarised: bool | None = None
    pitch_mm: float | None = None
    sources: Mapping[str, str] = {}


class Family(NamedTuple):
    """The nominal values of one family of cases; `bodies` by the number of leads."""

    names: str
    source: str
    height_mm: float
    terminals: int | None = None
    bodies: Mapping[int, Pair] = {}
    polarised: bool | None = True


def _narrow(width: float, lengths: Mapping[int, float]) -> dict[int, Pair]:
    return {leads: (width, length) for leads, length in lengths.items()}


_TSSOP = _narrow(4.4, {8: 3, 14: 5, 16: 5, 20: 6.5, 24: 7.8, 28: 9.7})
_QFP: Mapping[int, Pair] = {32: (7, 7), 48: (7, 7), 100: (14, 14)}
_FAMILIES = (
    Family("sot-?223(?:-?[34])?|to-?261", "JEDEC TO-261", 1.8, 4, {4: (3.5, 6.5)}),
    Family("sot-?89(?:-?3)?|to-?243", "JEDEC TO-243", 1.5, 3, {3: (2.5, 4.5)}),
    Family("tsot-?23(?:-?[568])?", "JEDEC MO-193", 1.1, None, {5: (1.6, 2.9), 6: (1.6, 2.9)}),
    Family("sot-?23-?[568]|sot-?2[56]", "JEDEC MO-178", 1.45, None, {5: (1.6, 2.9), 6: (1.6, 2.9)}),
    Family("sot-?23(?:-?3)?|to-?236", "JEDEC TO-236", 1.12, 3, {3: (1.3, 2.9)}),
    Family("sc-?59|sot-?346", "EIAJ SC-59", 1.3, 3, {3: (1.6, 2.9)}),
    Family("sot-?353|sc-?70-?5|sc-?88a", "EIAJ SC-88A", 1.1, 5, {5: (1.25, 2.0)}),
    Family("sot-?363|sc-?70-?6|sc-?88", "EIAJ SC-88", 1.1, 6, {6: (1.25, 2.0)}),
    Family("sot-?343|sc-?70-?4|sc-?82", "EIAJ SC-82", 1.1, 4, {4: (1.25, 2.0)}),
    Family("sot-?323|sc-?70(?:-?3)?", "EIAJ SC-70", 1.1, 3, {3: (1.25, 2.0)}),
    Family("sot-?416|sc-?75|sot-?523", "EIAJ SC-75", 0.9, 3, {3: (0.8, 1.6)}),
    Family("sot-?56[36]", "EIAJ SC-107", 0.6, 6, {6: (1.2, 1.6)}),
    Family("sot-?553", "EIAJ SC-107", 0.6, 5, {5: (1.2, 1.6)}),
    Family("sot-?143", "JEDEC TO-253", 1.12, 4, {4: (1.3, 2.9)}),
    Family("(?:to-?252|dpak)(?:-?[23])?(?!.*tabpin[13-9])", "JEDEC TO-252", 2.39, 3, {}),
    Family("(?:to-?263|d2pak|ddpak)(?:-?[23])?(?!.*tabpin[13-9])", "JEDEC TO-263", 4.83, 3, {}),
    Family("sod-?123f?l?", "makers' drawings of SOD-123", 1.35, 2, {2: (2.7, 1.6)}),
    Family("sod-?323|sc-?76", "EIAJ SC-76", 1.1, 2, {2: (1.7, 1.25)}),
    Family("sod-?523|sc-?79", "EIAJ SC-79", 0.7, 2, {2: (1.2, 0.8)}),
    Family("sod-?923", "makers' drawings of SOD-923", 0.4, 2, {2: (0.8, 0.6)}),
    Family("sod-?80c?|mini-?melf|ll-?34|do-?213aa", "JEDEC DO-213AA", 1.6, 2, {2: (3.5, 1.5)}),
    Family("d?_?sma|do-?214ac", "JEDEC DO-214AC", 2.3, 2, {2: (4.3, 2.6)}),
    Family("d?_?smb|do-?214aa", "JEDEC DO-214AA", 2.3, 2, {2: (4.3, 3.6)}),
    Family("d?_?smc|do-?214ab", "JEDEC DO-214AB", 2.3, 2, {2: (6.9, 5.9)}),
    Family("qsop", "JEDEC MO-137", 1.75, None, _narrow(3.9, {16: 4.9, 20: 8.65, 24: 8.65})),
    Family("h?tssop", "JEDEC MO-153", 1.2, None, _TSSOP),
    Family("[mv]sop|micro-?so", "JEDEC MO-187", 1.1, None, _narrow(3.0, {8: 3, 10: 3})),
    Family("ssop", "JEDEC MO-150", 2.0, None, _narrow(5.3, {20: 7.2, 24: 8.2, 28: 10.2})),
    Family("soic|so", "JEDEC MS-012", 1.75, None, _narrow(3.9, {8: 4.9, 14: 8.65, 16: 9.9})),
    Family("lqfp", "JEDEC MS-026", 1.6, None, {**_QFP, 144: (20, 20)}),
    Family("tqfp", "JEDEC MS-026", 1.2, None, {**_QFP, 44: (10, 10)}),
)  # fmt: skip
"""Nominal bodies and largest heights. Source: each names its own; the numbers are from memory."""

_PROFILES = {"l": 1.7, "t": 1.2, "v": 1.0, "w": 0.8, "u": 0.65, "x": 0.5}
"""Largest height by the letter before a leadless family. Source: JEDEC JESD30, from memory."""

_TANTALUM = {
    "a": (3.2, 1.6, 1.6),
    "b": (3.5, 2.8, 1.9),
    "c": (6.0, 3.2, 2.5),
    "d": (7.3, 4.3, 2.8),
    "e": (7.3, 4.3, 4.1),
}
"""Length, width, height of tantalum cases by letter. Source: EIA-535BAAC, from memory."""

_NAME = "name of the footprint"
_START = r"(?<![a-z0-9])"
_MATCHERS = tuple(
    (
        re.compile(
            rf"{_START}(?:{family.names})(?![a-z])(?:[- ]?(\d{{1,3}})[wn]?)?(?!-?\d|[a-z])", re.I
        ),
        family,
    )
    for family in _FAMILIES
)
_LEADLESS = re.compile(
    rf"{_START}(?:h|hv|p)?(?P<profile>[ltvwux])?x?\d?(?:qfn|dfn|son|mlf|mlp|lcc)(?![a-z])", re.I
)
_PINS = re.compile(
    r"(?<![a-z])(?:[a-z]{0,4}(?:qfn|dfn|son|qfp|sop|soic|so|mlf|mlp|lcc)[-_]?(\d{1,3})|"
    r"[a-z]{0,4}(?:lga|bga|csp)[-_]?(\d{1,4})|t?sot-?23-?([568]))(?![.\dx])|"
    r"(?<![\d.])(\d{1,2})-?pins?(?![a-z])",
    re.I,
)
_PAD_BELOW = re.compile(r"[-_](\d)EP(?![a-z])|[-_]EP\d", re.I)
_PITCH = re.compile(r"(?<![A-Za-z0-9])P(\d{1,2}(?:\.\d+)?)(?:mm)?(?![\d.x])", re.I)
_SIZE = re.compile(
    r"(?<![A-Za-z0-9.])(\d{1,2}(?:\.\d+)?)\s*(?:mm)?x(\d{1,2}(?:\.\d+)?)(?:x(\d{1,2}(?:\.\d+)?))?"
    r"\s*(mm)?(?![0-9.])",
    re.I,
)
_LETTERED_SIZE = re.compile(r"(?<![A-Za-z])L(\d+(?:\.\d+)?)[-_]W(\d+(?:\.\d+)?)", re.I)
_HEIGHT = re.compile(r"(?<![A-Za-z])H(\d{1,2}\.\d+)(?![0-9.])", re.I)
_CAN = re.compile(r"(?<![A-Za-z])(?:Elec|Radial|Can|CAPAE)(?![A-Za-z])", re.I)
_CHIP = re.compile(
    r"(?:^|(?<![A-Za-z])(?:R|C|L|D|F|FB|B|RES|CAP|IND|LED|DIO|FUSE|BEAD|CHIP|SMD|CP|PTC|NTC|MLCC|"
    r"(?:CHIP)?(?:LED|RES(?:ISTOR)?|CAP(?:ACITOR)?|IND(?:UCTOR)?|FERRITE|DIODE|FUSE|VARISTOR)"
    r"(?:[-_ ]?SMD|C)?)[-_ ]?)\d{4,5}(?!\d)|\d{4}[-_]\d{4}Metric",
    re.I,
)
_NOT_ONE_CHIP = re.compile(r"array|network|common|\dx\d{4}|metric-\d|shunt|transformer", re.I)
_NO_BODY = re.compile(r"holder|header|socket|universal|powerpak|modified", re.I)
_LETTERED_CAN = re.compile(r"CAP-SMD_BD\d", re.I)
_EIA = re.compile(r"EIA-?(\d\d)(\d\d)-(\d\d)(?!\d)", re.I)
_TANTALUM_LETTER = re.compile(
    r"(?:TANT(?:ALUM)?|CAP-?TAN|EIA|SMC)[-_ ]?(?:CASE[-_ ]?)?([A-E])(?![A-Za-z0-9])|"
    r"(?<![A-Za-z])CASE[-_]?([A-E])[-_](?:3216|3528|6032|7343)",
    re.I,
)

_IPC_LEADLESS = re.compile(
    r"(?<![A-Za-z])[A-Z]*(?:QFN|SON|DFN|LGA|LCC)(\d+)P(\d+)X(\d+)X(\d+)-(\d+)", re.I
)
_IPC_BALLS = re.compile(r"(?<![A-Za-z])[A-Z]*BGA(\d+)[CN](\d+)P\d+X\d+_(\d+)X(\d+)X(\d+)", re.I)
_IPC_LEADS = re.compile(
    r"(?<![A-Za-z])[A-Z]*(?:SOIC|SOP|SOJ|SOT|SO|QFP)(\d+)P(\d+)X(\d+)(?:X(\d+))?-(\d+)", re.I
)
_IPC_CAN = re.compile(r"(?<![A-Za-z])CAPAE(\d+)X(\d+)", re.I)
_SPANS: Mapping[tuple[int, int], str] = {
    (127, 600): "soic",
    (65, 640): "tssop",
    (50, 490): "msop",
    (65, 490): "msop",
    (95, 280): "sot23-5",
}
"""Pitch and lead span of IPC-7351 names, hundredths of a millimetre -> a family."""

_CAN_BASE_MM = 0.3
"""A can's base is so much wider than its diameter: makers' drawings; the footprints of the
reference library have it for 4 to 10 mm."""


_THROUGH_HOLE = re.compile(
    r"(?<![a-z])(?:THT|through[-_ ]?hole|axial|radial|DIP-?\d+|Pin_?Header|Pin_?Socket|IDC|"
    r"TO-?(?:3P?|5|18|39|46|72|92|126|220|247|251|262|264)[A-Z]?)(?!\d|[a-z]{2})|"
    r"_D\d[\d.]*mm_[PW]\d|_L\d[\d.]*mm_D\d|(?<![a-z])LED_D\d|TerminalBlock|BarrelJack|"
    r"(?<![a-z])HDR-?\d",
    re.I,
)
_SURFACE = re.compile(r"SMD|SMT|surface|TO-220-7Lead", re.I)


def is_through_hole(name: str) -> bool:
    """Tell whether a footprint's name says a part with leads through the board.

    Source: common practice, no published source; see the test against a reference library.
    """
    return bool(_THROUGH_HOLE.search(name)) and not _SURFACE.search(name)


Found = dict[str, tuple[object, str]]
"""Field -> its value, and the source of the value."""


def package_of(name: str) -> Package:
    """Return all that a footprint's name says, each value with its source.

    Source: IPC-7351 land pattern names; JEDEC and EIAJ outlines as `_FAMILIES` names them; chip
    codes as `trade.cases.CHIP_CASES` names them.
    """
    return _packed(name, (_by_ipc, _by_sizes, _by_family, _by_chip))


def said_by(name: str) -> Package:
    """Return what a footprint's name says in numbers of its own, no nominal value of a family."""
    return _packed(name, (_by_ipc, _by_sizes))


def _packed(name: str, readers: Sequence[Callable[[str, Found], Found]]) -> Package:
    found: Found = {}
    for read in readers:
        for field, said in read(name, found).items():
            found.setdefault(field, said)
    if (leads := found.get("terminals")) and isinstance(leads[0], int) and leads[0] > 2:
        found.setdefault("polarised", (True, "more than two terminals"))
    values = {field: value for field, (value, _) in found.items()}
    return Package(**values, sources={f: source for f, (_, source) in found.items()})  # type: ignore[arg-type]


def _by_ipc(name: str, _: Found) -> Found:
    if chip := IPC_CHIP.search(name):
        body = int(chip[2]) / 10, int(chip[3]) / 10
        is_tenths = "M" in chip[1].upper() and len(chip[4]) == 2
        said: dict[str, object] = {"height_mm": int(chip[4]) / (10 if is_tenths else 100)}
        said |= {"body_mm": body, "terminals": 2, "polarised": "P" in chip[1].upper() or None}
    elif flat := _IPC_LEADLESS.search(name) or _IPC_BALLS.search(name):
        is_ball = flat.re is _IPC_BALLS
        pins, pitch = (flat[1], flat[2]) if is_ball else (flat[5], flat[1])
        length, width, height = flat.group(3, 4, 5) if is_ball else flat.group(2, 3, 4)
        said = {"body_mm": (int(length) / 100, int(width) / 100), "height_mm": int(height) / 100}
        said |= {"terminals": int(pins), "pitch_mm": int(pitch) / 100}
    elif leads := _IPC_LEADS.search(name):
        height = leads[4] or leads[3]
        said = {"pitch_mm": int(leads[1]) / 100, "height_mm": int(height) / 100}
        said["terminals"] = int(leads[5])
        family = _SPANS.get((int(leads[1]), int(leads[2])))
        nominal = _by_family(f"{family}-{leads[5]}", {}) if family and not leads[4] else {}
        return {
            **_said(said, "IPC-7351 name"),
            **{k: v for k, v in nominal.items() if k == "body_mm"},
        }
    elif can := _IPC_CAN.search(name):
        said = {"body_mm": (int(can[1]) / 100,) * 2, "height_mm": int(can[2]) / 100}
        said |= {"terminals": 2, "polarised": True}
    else:
        return {}
    return _said(said, "IPC-7351 name")


def _said(values: Mapping[str, object], source: str) -> Found:
    return {field: (value, source) for field, value in values.items() if value is not None}


def _by_sizes(name: str, _: Found) -> Found:
    said = _said(_sizes(name), _NAME)
    pins, below = _PINS.search(name), _PAD_BELOW.search(name)
    if pins and (count := int(next(filter(None, pins.groups())))):
        said |= _said({"terminals": count + (int(below[1] or 1) if below else 0)}, _NAME)
    if pitch := _PITCH.search(name):
        said |= _said({"pitch_mm": float(pitch[1])}, _NAME)
    return said


def _sizes(name: str) -> dict[str, object]:
    if _NO_BODY.search(name):
        return {}
    if eia := _EIA.search(name):
        length, width, height = (int(digits) / 10 for digits in eia.groups())
        return {"body_mm": (length, width), "height_mm": height, "terminals": 2, "polarised": True}
    height_in_name = _HEIGHT.search(name)
    high = float(height_in_name[1]) if height_in_name else None
    if lettered := _LETTERED_SIZE.search(name):
        body = float(lettered[1]), float(lettered[2])
        can = {"terminals": 2, "polarised": True} if _LETTERED_CAN.search(name) else {}
        return {"body_mm": body, "height_mm": high, **can}
    for found in _SIZE.finditer(name):
        if not found[4] and "." not in found[0]:
            continue
        first, second = float(found[1]), float(found[2])
        if _CAN.search(name):
            base = round(first + _CAN_BASE_MM, 3)
            return {"body_mm": (base, base), "height_mm": second, "terminals": 2}
        return {
            "body_mm": (first, second),
            "height_mm": float(found[3]) if found[3] else high,
        }
    return {"height_mm": high}


def _by_family(name: str, found: Found) -> Found:
    if _NO_BODY.search(name):
        return {}
    if letter := _TANTALUM_LETTER.search(name):
        length, width, height = _TANTALUM[(letter[1] or letter[2]).lower()]
        values = {"body_mm": (length, width), "height_mm": height}
        return _said({**values, "terminals": 2, "polarised": True}, "nominal of EIA-535BAAC")
    for matcher, family in _MATCHERS:
        if match := matcher.search(name.replace("_", " ")):
            return _of_family(family, match[1], found)
    if leadless := _LEADLESS.search(name):
        high = _PROFILES.get((leadless["profile"] or "v").lower())
        return _said({"height_mm": high}, "largest of the profile, JEDEC JESD30")
    return {}


def _of_family(family: Family, digits: str | None, found: Found) -> Found:
    if digits and family.terminals:
        return {}
    known = found.get("terminals")
    count = known[0] if known else family.terminals or (int(digits) if digits else None)
    leads = count if isinstance(count, int) else None
    body = family.bodies.get(leads or 0)
    values = {"body_mm": body, "height_mm": family.height_mm, "terminals": leads}
    if family.source == "JEDEC MS-012" and _is_wide(found):
        values["height_mm"] = 2.65
        return _said(values, "nominal of JEDEC MS-013")
    return _said({**values, "polarised": family.polarised}, f"nominal of {family.source}")


def _is_wide(found: Found) -> bool:
    """Tell whether a small outline's body is the wide one, 7.5 mm: JEDEC MS-013."""
    body = found.get("body_mm")
    return bool(body) and isinstance(body[0], tuple) and 7.4 <= min(body[0]) <= 7.6  # type: ignore[index]


def _by_chip(name: str, _: Found) -> Found:
    code = chip_code(name) if _CHIP.search(name) and not _NOT_ONE_CHIP.search(name) else None
    if code is None:
        return {}
    case = CHIP_CASES[code]
    said = _said({"body_mm": case.body_mm, "terminals": 2}, f"nominal of the case, {case.source}")
    return said
