"""Pages and pictures of several drawings: one self-contained HTML page, or one SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from markupsafe import Markup

from jobcheck.reports.pages.drawing import filled

_GAP, _WIDTH, _NARROW = 46.0, 900.0, 300.0


class Figure(NamedTuple):
    """A drawing with the sentence above it and the words below it.

    `width` and `height` are those of its coordinates. Figures with the same `side` are shown
    together, one side at a time. `describes` is what somebody hears who cannot see it.
    """

    sentence: str
    content: Markup
    width: float
    height: float
    words: tuple[str, ...] = ()
    side: str = ""
    describes: str = ""
    left: float = 0.0
    top: float = 0.0

    @property
    def view(self) -> str:
        """The view box."""
        return f"{self.left:g} {self.top:g} {self.width:g} {self.height:g}"


class Remark(NamedTuple):
    """A finding on the page: its number, its level, its texts by label, what it concerns.

    `ids` are all that it concerns in the drawings, `on` the first of them with their names.
    `commands` are typed as they are.
    """

    number: int
    level: str
    rule: str
    message: str
    lines: tuple[tuple[str, str], ...]
    commands: tuple[str, ...]
    ids: tuple[str, ...]
    on: tuple[tuple[str, str], ...]

    @property
    def more(self) -> int:
        """How many are not named."""
        return len(self.ids) - len(self.on)


def drawn(template: str, **values: object) -> Markup:
    """Fill a template of a drawing: its texts are escaped already."""
    return Markup(filled(template, **values))


def html_page(
    title: str,
    figures: Sequence[Figure],
    *,
    words: Iterable[str] = (),
    remarks: Sequence[Remark] = (),
    is_row: bool = False,
) -> str:
    """Return one page with all figures, beside each other in a row; findings are below them."""
    sides = [
        (side, [figure for figure in figures if figure.side == side])
        for side in dict.fromkeys(figure.side for figure in figures)
    ]
    return filled(
        "page.html", title=title, sides=sides, words=words, remarks=remarks, is_row=is_row
    )


def svg_picture(title: str, figures: Sequence[Figure], *, is_row: bool = False) -> str:
    """Return one picture with all figures, below or beside each other."""
    placed: list[dict[str, object]] = []
    width, top, left, bottom = (_NARROW if is_row else _WIDTH), _GAP, 0.0, 0.0
    for figure in figures:
        height = round(figure.height * width / figure.width, 2)
        placed.append(
            {"figure": figure, "left": left, "top": top, "width": width, "height": height}
        )
        bottom = max(bottom, top + height)
        if is_row:
            left += width
        else:
            top = round(top + height + _GAP, 2)
    whole = left if is_row else width
    return filled("picture.svg", title=title, placed=placed, width=whole, height=bottom)
