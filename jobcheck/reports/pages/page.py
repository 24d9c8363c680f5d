"""Pages and pictures of several drawings: one self-contained HTML page, or one SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import NamedTuple

from markupsafe import Markup

from jobcheck.reports.pages.drawing import filled

_TITLE, _LINE, _WIDTH, _NARROW = 44.0, 17.0, 900.0, 300.0
_LETTER = 7.2
"""Width of a letter of 12 units, on average (common practice, no published source)."""


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


def svg_picture(
    title: str, figures: Sequence[Figure], *, words: Iterable[str] = (), is_row: bool = False
) -> str:
    """Return one picture with all figures and their words, below or beside each other."""
    width = _NARROW if is_row else _WIDTH
    whole = width * len(figures) if is_row else width
    head, top = _lines(words, whole, 0.0)
    left, bottom = 0.0, top
    placed: list[dict[str, object]] = []
    for figure in figures:
        height = round(figure.height * width / figure.width, 2)
        upper = round(top + _TITLE, 2)
        lines, below = _lines(figure.words, width, upper + height)
        placed.append(
            {"figure": figure, "left": left, "top": upper, "width": width, "height": height}
            | {"lines": lines}
        )
        bottom = max(bottom, below)
        left, top = (left + width, top) if is_row else (left, below)
    return filled(
        "picture.svg", title=title, head=head, placed=placed, width=whole, height=round(bottom + 8)
    )


def _lines(words: Iterable[str], width: float, top: float) -> tuple[list[tuple[float, str]], float]:
    """Return words as lines with their places below `top`, and where they end."""
    wrapped = [line for text in words for line in wrap(text, int(width / _LETTER))]
    return [(round(top + _LINE * at, 2), line) for at, line in enumerate(wrapped, 1)], (
        top + _LINE * len(wrapped)
    )
