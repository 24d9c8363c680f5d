"""Plain scalars by the core schema of YAML 1.2 (section 10.3.2)."""

import math
import re

Scalar = str | int | float | bool | None

_NUMBER = re.compile(
    r"(?P<int>[-+]?[0-9]+)|(?P<octal>0o[0-7]+)|(?P<hex>0x[0-9a-fA-F]+)"
    r"|(?P<float>[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?)"
)
_WORDS: dict[str, Scalar] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
_LONGEST_NUMBER = 40


def resolve(text: str) -> Scalar:
    """Return the value of a plain scalar.

    Raises:
        ValueError: a number that is not finite or too long to be meant; the message says why.
    """
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "+-.0123456789":
        return text
    digits = text.replace(".", "", 1)
    if digits.isdigit() and digits.isascii() and len(text) <= _LONGEST_NUMBER:
        return float(text) if "." in text else int(text)
    number = _NUMBER.fullmatch(text)
    if number is None:
        if _NOT_FINITE.fullmatch(text):
            raise ValueError(f"{text} is not a number that a machine can be set to")
        return text
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(f"a number of {len(text)} characters is too long")
    if number["float"] is not None:
        value = float(text)
        if math.isinf(value):
            raise ValueError(f"{text} is too large")
        return value
    if number["int"] is not None:
        return int(text)
    return int(text[2:], 8 if number["octal"] else 16)
