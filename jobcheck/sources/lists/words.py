"""Words of lists for sides, for fitted or not, and for fiducials."""

from __future__ import annotations

import re

from jobcheck.trade.component_values import read_value

_TOP = (
    *(
        "oben",
        "vorderseite",
        "dessus",
        "arriba",
        "superior",
        "sopra",
        "topo",
        "boven",
        "góra",
        "表",
        "表面",
        "cara superior",
        "顶层",
        "顶面",
    ),
    *("top", "t", "front", "f", "f.cu", "top layer", "toplayer", "top side", "topside"),
    *("front side", "component side", "component", "primary", "primary side", "layer top"),
)
_BOTTOM = (
    *(
        "unten",
        "rückseite",
        "dessous",
        "abajo",
        "inferior",
        "sotto",
        "fundo",
        "onder",
        "dół",
        "裏",
        "裏面",
        "cara inferior",
        "底层",
        "底面",
    ),
    *("bottom", "bot", "b", "back", "b.cu", "bottom layer", "bottomlayer", "bottom side"),
    *("bottomside", "bot layer", "back side", "solder side", "solder", "secondary"),
    *("secondary side", "layer bottom"),
)
_SIDES = {**dict.fromkeys(_TOP, "top"), **dict.fromkeys(_BOTTOM, "bottom")}
_YES = frozenset(("yes", "true", "1", "y", "x"))
_NO = frozenset(("no", "false", "0", "n"))
_NOT_FITTED = (
    *("dnp", "dnf", "dni", "do not place", "do not populate", "do not fit", "do not install"),
    *("not fitted", "not placed", "not populated", "no fit", "nofit", "unpopulated", "no pop"),
    *("dnm", "do not mount", "dns", "do not stuff", "do not solder", "dnl", "do not load"),
    *("do not assemble", "no stuff", "nostuff", "no load", "noload", "not mounted", "not stuffed"),
    *("not assembled", "not loaded", "not installed", "unfitted", "np", "n.p."),
)
NOT_FITTED = frozenset(_NOT_FITTED)
_UNCLEAR = (
    *("nc", "n.c.", "n/c", "open", "nf", "n.f.", "na", "n/a", "none", "not used", "unused", "opt"),
    *("optional", "offen", "tbd"),
)
UNCLEAR = frozenset(_UNCLEAR)
"""Words in the place of a value that may mean not fitted, or something else: they are asked."""
_MOUNT = {
    **dict.fromkeys(("smd", "smt", "surface mount", "surface"), True),
    **dict.fromkeys(("th", "tht", "pth", "through hole", "through-hole", "thru hole"), False),
    **dict.fromkeys(("thru-hole", "pressfit", "press fit", "press-fit"), False),
}
_LONG_WORDS = "|".join(re.escape(word) for word in _NOT_FITTED if len(word) > 2 and "." not in word)
_UNFITTED_END = re.compile(rf"[\s/,;:(\[_-]+({_LONG_WORDS}|(?<=\s)np)[)\]]?$")
_UNFITTED_START = re.compile(rf"[(\[]?(?:(?:{_LONG_WORDS})[)\]]?[\s/,;:_]+|np[)\]]?\s+)(?=\S)")
_LONGEST_MARK = 40
_FIDUCIAL_REFERENCE = re.compile(r"fid(?:ucial)?s?[-_ ]?\d*", re.IGNORECASE)
_FIDUCIAL = re.compile(r"fiducial", re.IGNORECASE)
_REFERENCE = re.compile(r"[A-Za-z]{1,6}[_-]?\d+[A-Za-z]?(?:[._-]\w{1,4})?")


def text_read(cell: str) -> str | None:
    """Return a cell as it is, None for an empty one."""
    return cell or None


def side_of(cell: str) -> str | None:
    """Return `top` or `bottom` for a cell of a side's column, None if it is neither."""
    word = " ".join(cell.strip().lower().replace("_", " ").split())
    return _SIDES.get(word)


def side_read(cell: str) -> str | None:
    """Return the side in a cell, None for an empty one.

    Raises:
        ValueError: it is neither side; the message is a clause.
    """
    if not cell:
        return None
    side = side_of(cell)
    if side is None:
        raise ValueError(f"{cell!r} is neither side; write top or bottom")
    return side


def yes_or_no(cell: str) -> bool | None:
    """Return the answer in a cell, None for an empty one.

    Raises:
        ValueError: it is not an answer; the message is a clause.
    """
    word = cell.lower()
    if word in _YES or word in _NO:
        return word in _YES
    if not cell:
        return None
    raise ValueError(f"{cell!r} is neither yes nor no")


def fitted_read(cell: str) -> bool | None:
    """Return whether a cell of a column `fitted` means yes; words for not fitted count as no."""
    word = cell.lower()
    if word in ("fitted", "fit", "placed", "populated"):
        return True
    return False if word in NOT_FITTED else yes_or_no(cell)


def not_fitted_read(cell: str) -> bool | None:
    """Return whether a part is fitted from a cell of a column `DNP` or the like."""
    word = cell.lower()
    if word in NOT_FITTED:
        return False
    if word in ("fitted", "fit", "placed", "populated"):
        return True
    answer = yes_or_no(cell)
    return None if answer is None else not answer


def mirror_read(cell: str) -> str | None:
    """Return the side in a cell of a column `mirror`: a mirrored part is on the bottom."""
    if cell.lower() in ("m", "*", "mirrored", "mirror", "flipped"):
        return "bottom"
    answer = yes_or_no(cell)
    return None if answer is None else "bottom" if answer else "top"


def mount_read(cell: str) -> bool | None:
    """Return False for a through-hole part, which no nozzle places.

    A plain no, as in a column `SMD`, says the same.

    Raises:
        ValueError: the word is unknown; the message is a clause.
    """
    word = cell.lower()
    if not cell or word in _YES:
        return None
    if word in _NO:
        return False
    try:
        return None if _MOUNT[word] else False
    except KeyError:
        raise ValueError(f"{cell!r} is not a known way of mounting") from None


def is_not_fitted(cell: str) -> bool:
    """Return whether a part's own cell says that it is not fitted."""
    return cell.strip().lower() in NOT_FITTED


def without_mark(cell: str) -> tuple[str, bool]:
    """Return a part's cell without a suffix such as ` (DNP)`, and whether it had one."""
    if is_not_fitted(cell):
        return "", True
    found = _UNFITTED_END.search(cell[-_LONGEST_MARK:].lower())
    if found is None:
        before = _UNFITTED_START.match(cell[:_LONGEST_MARK].lower())
        return (cell[before.end() :].strip(), True) if before else (cell, False)
    if found[1] == "np" and _is_capacitance(cell[: -len(found[0])]):
        return cell, False
    return cell[: max(len(cell) - _LONGEST_MARK, 0) + found.start()].strip(), True


def _is_capacitance(cell: str) -> bool:
    """Tell whether a value is that of a capacitor, of which NP may say not polarised."""
    value = read_value(cell)
    return value is not None and (value.unit == "F" or value.amount < 1e-3)


def is_fiducial(reference: str, *others: str) -> bool:
    """Return whether a row is a fiducial: by its reference or the name of its part."""
    return bool(_FIDUCIAL_REFERENCE.fullmatch(reference)) or any(map(_FIDUCIAL.search, others))


def looks_like_reference(cell: str) -> bool:
    """Return whether a cell looks like a reference designator: letters, then a number."""
    return bool(_REFERENCE.fullmatch(cell.strip()))
