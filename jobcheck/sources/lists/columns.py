"""The columns of lists: their names, how their cells are read, and the value that they give.

A column is one line of `COLUMNS`. A column whose name a job may declare is also a field of
`schema.job.Columns`.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import Any, NamedTuple

from jobcheck.schema.job import Columns
from jobcheck.sources.lists import words

_AXES = (
    *("{}", "pos{}", "{}pos", "position{}", "{}position", "mid{}", "{}mid", "center{}"),
    *("centre{}", "{}centre", "centroid{}", "{}centroid", "coord{}", "{}coord"),
    *("{}坐标", "坐标{}", "中心{}", "mitte{}", "{}mitte", "centro{}", "posición{}", "koordinate{}"),
    *("{}koordinate", "{}座標", "座標{}", "posizione{}", "posição{}", "positie{}", "pozycja{}"),
    *("position{}mitte", "mittelpunkt{}", "locatie{}", "poloha{}"),
    *("coordinate{}", "{}coordinate", "location{}", "{}location", "loc{}", "{}loc", "placement{}"),
)
_UNSURE_AXES = "pad{}", "{}pad", "ref{}", "{}ref"
_PIN_1_AXES = "pin1{}", "{}pin1"


class Content(Enum):
    """What the cells of a column hold."""

    REFERENCE = "the reference"
    LENGTH = "a position, in the list's unit"
    ANGLE = "an angle, degrees"
    TEXT = "text, as it is"
    WORD = "a word, read by `read`"
    NAME = "a name of the part where no column names one of the shop's"
    UNSURE = "a position of a pad or of the part: refused until it is declared"
    COUNT = "a number of pieces; never taken for a rotation"


class Column(NamedTuple):
    """One column by its meaning.

    `names` are compared in lower case without blanks and punctuation. `gives` is the value of a
    placement that a cell becomes, empty for none. `read` returns that value of a cell, None for an
    empty one, and raises ValueError with a clause. `is_basic`: a list of our own always has it.
    """

    meaning: str
    content: Content
    gives: str
    names: tuple[str, ...]
    read: Callable[[str], Any] = words.text_read
    is_basic: bool = False


def _along(axis: str, forms: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(form.format(axis) for form in forms)


_REFERENCES = (
    *("reference", "references", "ref", "refs", "refdes", "designator", "designators"),
    *("referencedesignator", "referencedesignators", "refdesignator", "refdesignators"),
    *("referenz", "bezeichner", "référence", "repère", "referencia", "designador", "riferimento"),
    *("referência", "referentie", "oznaczenie", "位号", "リファレンス"),
)
_PARTS = ("part", "partname", "partnumber", "partno", "pn", "article", "articlenumber")
_ROTATIONS = (
    "rotation",
    "rot",
    "angle",
    "orientation",
    "orient",
    "theta",
    "rotationangle",
    "rotate",
    *("drehung", "winkel", "drehwinkel", "rotación", "ángulo", "rotazione", "angolo", "rotação"),
    *("rotatie", "hoek", "obrót", "kąt", "旋转", "角度", "旋转角度", "回転"),
)
_SIDES = (
    *("side", "layer", "boardside", "topbottom", "topbot", "tb", "face", "mountside"),
    *("mountingside", "placementside", "placementlayer", "pcbside", "boardlayer"),
    *("seite", "lage", "bestückungsseite", "côté", "couche", "lado", "capa", "cara", "lato"),
    *("camada", "zijde", "laag", "strona", "warstwa", "层", "面", "板层"),
)
_MIRRORS = ("mirror", "mirrored", "flip", "flipped")
_FITTED = ("fitted", "fit", "populate", "populated", "place", "placed", "assemble")
_NOT_FITTED = (
    *("dnp", "dnf", "dni", "dns", "nofit", "notfitted", "donotplace", "donotpopulate"),
    *("donotfit", "donotinstall", "donotstuff", "unpopulated", "notplaced", "notpopulated"),
)
_MOUNTS = ("mount", "mounttype", "mounting", "mountingtype", "technology", "smd", "smt")
_FOOTPRINTS = (
    *("footprint", "package", "pattern", "case", "outline", "landpattern", "packagetype"),
    *("pcbfootprint", "packagename", "footprintname"),
    *("gehäuse", "bauform", "boîtier", "empreinte", "encapsulado", "huella", "contenitore"),
    *("impronta", "encapsulamento", "behuizing", "obudowa", "封装", "パッケージ"),
)
_VALUES = (
    *("value", "val", "wert", "valeur", "valor", "valore", "waarde", "wartość", "值", "数值", "値"),
)
_MAKER_NUMBERS = (
    *("makernumber", "mpn", "makerpartnumber", "manufacturerpartnumber", "manufacturerpart"),
    *("manufacturerpn", "manufacturernumber", "mfrpartnumber", "mfrpart", "mfrpn", "mfgpn"),
    *("mfgpartnumber", "mfgpart", "mfpn", "mfrno", "manufacturerpartno"),
)

_QUANTITIES = (
    *("quantity", "qty", "count", "pieces", "pcs", "menge", "anzahl", "quantité", "cantidad"),
    *("quantità", "quantidade", "aantal", "ilość", "数量"),
)

COLUMNS = (
    Column("reference", Content.REFERENCE, "", _REFERENCES, is_basic=True),
    Column("part", Content.TEXT, "part", _PARTS, is_basic=True),
    Column("x", Content.LENGTH, "x", _along("x", _AXES), is_basic=True),
    Column("y", Content.LENGTH, "y", _along("y", _AXES), is_basic=True),
    Column("rotation", Content.ANGLE, "rotation", _ROTATIONS, is_basic=True),
    Column("side", Content.WORD, "side", _SIDES, words.side_read, is_basic=True),
    Column("mirror", Content.WORD, "side", _MIRRORS, words.mirror_read),
    Column("fitted", Content.WORD, "fitted", _FITTED, words.fitted_read),
    Column("not_fitted", Content.WORD, "fitted", _NOT_FITTED, words.not_fitted_read),
    Column("mount", Content.WORD, "fitted", _MOUNTS, words.mount_read),
    Column("pin1_x", Content.LENGTH, "pin1_x", _along("x", _PIN_1_AXES)),
    Column("pin1_y", Content.LENGTH, "pin1_y", _along("y", _PIN_1_AXES)),
    Column("value", Content.NAME, "", _VALUES),
    Column("footprint", Content.NAME, "", _FOOTPRINTS),
    Column("maker_number", Content.NAME, "", _MAKER_NUMBERS),
    Column("comment", Content.NAME, "", ("comment",)),
    Column("unsure_x", Content.UNSURE, "", _along("x", _UNSURE_AXES)),
    Column("unsure_y", Content.UNSURE, "", _along("y", _UNSURE_AXES)),
    Column("quantity", Content.COUNT, "", _QUANTITIES),
)
BY_MEANING = {column.meaning: column for column in COLUMNS}
MEANINGS = {name: column.meaning for column in COLUMNS for name in column.names}
"""Names of columns, as they are compared -> the meaning."""

DECLARABLE = tuple(Columns.model_fields)
"""Meanings that `columns` may give to a column by its name."""


def _holding(*contents: Content) -> tuple[str, ...]:
    return tuple(column.meaning for column in COLUMNS if column.content in contents)


LENGTHS = _holding(Content.LENGTH)
NUMBERS = (*LENGTHS, *_holding(Content.ANGLE))
NAMING = _holding(Content.NAME)
"""Columns that name a part without naming one of the shop's."""

WORDS = tuple(column for column in COLUMNS if column.content is Content.WORD)
FITTED = tuple(column for column in WORDS if column.gives == "fitted")
VALUES = tuple(column.meaning for column in COLUMNS if column.gives == column.meaning)
"""Columns whose cells are values of a placement as they are."""

DECISIVE = ("reference", *(column.meaning for column in COLUMNS if column.gives))
"""Columns of which a list has one each: two that could be meant are refused."""
