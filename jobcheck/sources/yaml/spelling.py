"""Plain values as YAML text: a scalar, a value on one line, an entry in lines."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

from jobcheck.shop.paths import Path
from jobcheck.sources.yaml.scalars import Scalar, resolve

WIDEST = 100
"""Longest line that a mapping is written on."""

Spell = Callable[[Path, Scalar, bool], str]
"""Writes a scalar: its path, its value, whether it is inside brackets."""

_PLAIN = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_./*-]*( [A-Za-z0-9_./*-]+)*")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_OTHER_WORDS = frozenset(("yes", "no", "on", "off", "y", "n"))
_UNPRINTED = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


def spell_scalar(value: Scalar, quote: str = "") -> str:
    """Write a scalar; text gets the quotes asked for, or none where it is understood without."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if not isinstance(value, str):
        return repr(value)
    if quote == "'" and value.isprintable():
        return "'" + value.replace("'", "''") + "'"
    return value if not quote and _is_plain(value) else _quoted(value)


def spell_key(key: str, quote: str = "") -> str:
    """Write a key: always text, so that it needs quotes only where it has odd characters."""
    return key if not quote and _PLAIN.fullmatch(key) else spell_scalar(key, quote or '"')


def _quoted(text: str) -> str:
    """Write text between double quotes, as JSON does, with what no editor shows escaped."""
    shown = json.dumps(text, ensure_ascii=False)
    return _UNPRINTED.sub(lambda char: f"\\u{ord(char[0]):04x}", shown)


def _is_plain(text: str) -> bool:
    """Tell whether text is read as itself without quotes, by older parsers too."""
    if not _PLAIN.fullmatch(text) or text.lower() in _OTHER_WORDS:
        return False
    if text[0].isdigit():
        return bool(_DATE.fullmatch(text)) or (_is_read_alike(text) and text[-1].isalpha())
    return _is_read_alike(text)


def _is_read_alike(text: str) -> bool:
    try:
        return resolve(text) == text
    except ValueError:
        return False


def spell_anyhow(path: Path, value: Scalar, in_flow: bool) -> str:
    """Write a scalar where no recorded spelling is to be kept."""
    return spell_scalar(value)


def flow_text(path: Path, value: Any, spell: Spell = spell_anyhow, quote: str = "") -> str:
    """Write a value on one line; keys get the quotes asked for."""
    if isinstance(value, dict):
        inside = (
            f"{spell_key(key, quote)}: {flow_text((*path, key), item, spell, quote)}"
            for key, item in value.items()
        )
        return "{" + ", ".join(inside) + "}"
    if isinstance(value, list):
        items = (flow_text((*path, str(i)), item, spell, quote) for i, item in enumerate(value))
        return "[" + ", ".join(items) + "]"
    return spell(path, value, True)


def block_lines(
    path: Path, value: Any, spell: Spell = spell_anyhow, indent: int = 2, on_one_line: bool = False
) -> Iterator[str]:
    """Yield the lines of one entry, its key (the last of the path) in the first column.

    A mapping inside it without mappings is on one line if it fits; the entry itself only on
    request.
    """
    key = f"{spell_key(path[-1])}:"
    if not isinstance(value, (dict, list)):
        yield f"{key} {spell(path, value, False)}"
    elif isinstance(value, list) or not value or on_one_line:
        yield f"{key} {flow_text(path, value, spell)}"
    else:
        yield key
        for name, item in value.items():
            inner = (*path, name)
            leaf = isinstance(item, dict) and not any(isinstance(v, dict) for v in item.values())
            fits = leaf and len(flow_text(inner, item, spell)) + len(name) + indent + 2 <= WIDEST
            for line in block_lines(inner, item, spell, indent, fits):
                yield " " * indent + line
