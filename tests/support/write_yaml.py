"""Plain values -> YAML text, in one of many styles: what people's files look like."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_./*-]*( [A-Za-z0-9_./*-]+)*|\d{4}-\d\d-\d\d")
_WORDS = frozenset(("true", "false", "null", "yes", "no", "on", "off"))


@dataclass(frozen=True)
class Style:
    """How a document is written.

    `flow` is the chance that a mapping without mappings inside is written on one line, `comments`
    that a line gets a comment, `quotes` that a text is quoted without need; each is drawn from
    `seed`.
    """

    flow: float = 0.0
    comments: float = 0.0
    quotes: float = 0.0
    indent: int = 2
    newline: str = "\n"
    final_newline: bool = True
    byte_order_mark: bool = False
    seed: int = 0

    @classmethod
    def drawn(cls, seed: int) -> "Style":
        """Any style, by its seed."""
        draw = Random(seed)
        return cls(
            flow=draw.choice([0.0, 0.5, 1.0]),
            comments=draw.choice([0.0, 0.1, 0.5]),
            quotes=draw.choice([0.0, 0.3]),
            indent=draw.choice([2, 2, 3, 4]),
            newline=draw.choice(["\n", "\n", "\r\n"]),
            final_newline=draw.random() < 0.8,
            byte_order_mark=draw.random() < 0.2,
            seed=seed,
        )


def write_yaml(document: dict[str, Any], style: Style = Style()) -> bytes:
    """Return the document as bytes; the same style gives the same bytes."""
    text = style.newline.join(_block(document, 0, style, Random(style.seed)))
    if style.final_newline:
        text += style.newline
    return text.encode("utf-8-sig" if style.byte_order_mark else "utf-8")


def _block(mapping: dict[str, Any], depth: int, style: Style, draw: Random) -> Iterator[str]:
    margin = " " * (style.indent * depth)
    for key, value in mapping.items():
        if draw.random() < style.comments:
            yield f"{margin}# about {key}: {draw.randrange(1000)}"
        begin = f"{margin}{_text(key)}:"
        if isinstance(value, dict) and value and not _fits_on_a_line(value, style, draw):
            yield begin
            yield from _block(value, depth + 1, style, draw)
        else:
            end = f"  # {draw.randrange(1000)}" if draw.random() < style.comments else ""
            yield f"{begin} {_flow(value, style, draw)}{end}"


def _fits_on_a_line(mapping: dict[str, Any], style: Style, draw: Random) -> bool:
    return not any(isinstance(value, dict) for value in mapping.values()) and (
        draw.random() < style.flow
    )


def _flow(value: Any, style: Style, draw: Random) -> str:
    if isinstance(value, dict):
        inside = ", ".join(f"{_text(k)}: {_flow(v, style, draw)}" for k, v in value.items())
        return f"{{{inside}}}"
    if isinstance(value, list):
        return f"[{', '.join(_flow(item, style, draw) for item in value)}]"
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    if isinstance(value, str):
        return _text(value, draw.random() < style.quotes)
    return repr(value)


def _text(text: str, quoted: bool = False) -> str:
    if not quoted and _PLAIN.fullmatch(text) and text.lower() not in _WORDS:
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
