"""Damages the files of a shop in the ways that editors, tools, disks and people do."""

import re
from collections.abc import Callable
from random import Random

Files = dict[str, bytes]

_TOKEN = re.compile(rb"[A-Za-z0-9_.+-]+|[^\sA-Za-z0-9]")

_SCALARS = (
    *(b"1e400", b"-1e400", b"1e308", b"1e-400", b".nan", b".inf", b"-.inf", b"NaN", b"nan", b"-0"),
    *(b"0", b"-1", b"1e99999999999", b"9" * 30, b"9" * 5000, b"0x1F", b"0o17", b"017", b"1_000"),
    *(b"1:30:00", b"true", b"null", b"~", b"yes", b"", b"''", b'"', b"2026-13-40", b"12:5", b"1,5"),
    *(
        b"[]",
        b"{}",
        b"[[]]",
        b"{a: }",
        b"{? a}",
        b"- 1",
        b"now",
        b"../x",
        b"/etc/passwd",
        b"*",
        b"**",
    ),
    *(b"!!python/object:os.system", b"!!binary AA==", b"!!int '3'", b"!x 1", b"&a 1", b"*a", b"<<"),
    *(b"25.4", b"39.37", b"1000000", b"1e3", b"0.0000001", b"--", b"---", b"...", b"%YAML 1.2"),
    *(b"a" * 200, b"4k7", b"1bcf:2b8a", b"0603", b"\\", b"# x", b"|", b">-", b"@x", b"`x", b"%x"),
)
_UNICODE = (
    *("\ufeff", "\u0085", "\u2028", "\u2029", "\u00a0", "\u200b", "\u202e", "\u0000", "\u0007"),
    *("\u00b5", "\u03a9", "\u00e9", "e\u0301", "\u65e5\u672c", "\U0001f600", "\ufffe", "\t", "\r"),
)
_BROKEN_BYTES = (b"\xff", b"\xc0\xaf", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xe2\x82", b"\x80")
_KEYS = (b"x", b"y", b"z", b"part", b"height_mm", b"describes", b"edition", b"controls", b"file")


def mutate(files: Files, draw: Random) -> Files:
    """Return damaged files: one to four kinds of damage, drawn in turn."""
    damaged = dict(files)
    for _ in range(draw.choice((1, 1, 1, 2, 4))):
        if draw.random() < 0.05 or not damaged:
            _damage_folder(damaged, draw)
            continue
        name = draw.choice(list(damaged))
        damaged[name] = draw.choice(_DAMAGES)(damaged[name], draw)
    return damaged


def _damage_folder(files: Files, draw: Random) -> None:
    """Lose a file, exchange two, empty one, or put another's content in its place."""
    if not files:
        files["shop.yaml"] = b""
        return
    one, other = draw.choice(list(files)), draw.choice(list(files))
    kind = draw.randrange(4)
    if kind == 0:
        del files[one]
    elif kind == 1:
        files[one], files[other] = files[other], files[one]
    elif kind == 2:
        files[one] = b""
    else:
        files[one] = files[other]


def _replace(data: bytes, start: int, end: int, by: bytes) -> bytes:
    return data[:start] + by + data[end:]


def _flip(data: bytes, draw: Random) -> bytes:
    at = draw.randrange(len(data) + 1)
    return _replace(data, at, at + 1, bytes([draw.randrange(256)]))


def _cut_short(data: bytes, draw: Random) -> bytes:
    return data[: draw.randrange(len(data) + 1)]


def _lose_bytes(data: bytes, draw: Random) -> bytes:
    at = draw.randrange(len(data) + 1)
    return _replace(data, at, at + draw.randint(1, 40), b"")


def _copy_bytes(data: bytes, draw: Random) -> bytes:
    start, at = draw.randrange(len(data) + 1), draw.randrange(len(data) + 1)
    return _replace(data, at, at, data[start : start + draw.randint(1, 200)])


def _tokens(data: bytes) -> list[tuple[int, int]]:
    return [token.span() for token in _TOKEN.finditer(data)] or [(0, 0)]


def _splice_token(data: bytes, draw: Random) -> bytes:
    """Put one token of the file in another's place."""
    tokens = _tokens(data)
    (start, end), (a, b) = draw.choice(tokens), draw.choice(tokens)
    return _replace(data, start, end, data[a:b])


def _swap_type(data: bytes, draw: Random) -> bytes:
    """Put a scalar of another type, size or spelling in a token's place."""
    start, end = draw.choice(_tokens(data))
    return _replace(data, start, end, draw.choice(_SCALARS))


def _change_value(data: bytes, draw: Random) -> bytes:
    """Put another scalar after a key's colon: what stands there is damaged as a whole."""
    values = list(re.finditer(rb"(?<=: )[^\n,}#]+", data))
    if not values:
        return _swap_type(data, draw)
    start, end = draw.choice(values).span()
    return _replace(data, start, end, draw.choice(_SCALARS))


def _change_number(data: bytes, draw: Random) -> bytes:
    """Scale, negate or shift a number: the shop stays readable, but no longer makes sense."""
    numbers = list(re.finditer(rb"(?<=[ \[,])-?\d+(\.\d+)?(?=[\s,}\]])", data))
    if not numbers:
        return _swap_type(data, draw)
    found = draw.choice(numbers)
    value = float(found[0])
    changed = draw.choice((value * 25.4, value / 10, -value, value + 1, value + 90, 0.0))
    by = b"%d" % changed if b"." not in found[0] and changed.is_integer() else b"%.6g" % changed
    return _replace(data, *found.span(), by)


def _exchange_values(data: bytes, draw: Random) -> bytes:
    """Let one key have another key's value: most often a name of the wrong thing."""
    values = [found.span() for found in re.finditer(rb"(?<=: )[^\n,}{\[\]#]+", data)]
    if not values:
        return _swap_type(data, draw)
    (start, end), (a, b) = draw.choice(values), draw.choice(values)
    return _replace(data, start, end, data[a:b])


def _copy_same_key(data: bytes, draw: Random) -> bytes:
    """Give a key the value that the same key has elsewhere: two slots alike, another's part."""
    pairs = list(re.finditer(rb"([a-z0-9_]+): ([^\n,}{\[\]#]+)", data))
    if not pairs:
        return _swap_type(data, draw)
    found = draw.choice(pairs)
    alike = [other for other in pairs if other[1] == found[1]]
    return _replace(data, *found.span(2), draw.choice(alike)[2])


def _add_unicode(data: bytes, draw: Random) -> bytes:
    at = draw.randrange(len(data) + 1)
    some = "".join(draw.choices(_UNICODE, k=draw.randint(1, 3))).encode()
    return _replace(data, at, at, draw.choice((some, draw.choice(_BROKEN_BYTES))))


def _lines(data: bytes) -> list[bytes]:
    return data.splitlines(keepends=True) or [b""]


def _repeat_line(data: bytes, draw: Random) -> bytes:
    """Repeat a line, which most often is a key, near or far."""
    lines = _lines(data)
    at = draw.randrange(len(lines))
    lines.insert(draw.choice((at, draw.randrange(len(lines)))), lines[at])
    return b"".join(lines)


def _lose_lines(data: bytes, draw: Random) -> bytes:
    lines = _lines(data)
    at = draw.randrange(len(lines))
    del lines[at : at + draw.choice((1, 1, 3, 10))]
    return b"".join(lines)


def _move_lines(data: bytes, draw: Random) -> bytes:
    lines = _lines(data)
    at, count = draw.randrange(len(lines)), draw.randint(1, 8)
    block, rest = lines[at : at + count], lines[:at] + lines[at + count :]
    to = draw.randrange(len(rest) + 1)
    return b"".join(rest[:to] + block + rest[to:])


def _indent(data: bytes, draw: Random) -> bytes:
    lines = _lines(data)
    at = draw.randrange(len(lines))
    margin = draw.choice((b" ", b"  ", b"\t", b"    "))
    lines[at] = lines[at].lstrip(b" ") if draw.random() < 0.3 else margin + lines[at]
    return b"".join(lines)


def _anchor(data: bytes, draw: Random) -> bytes:
    """Anchor one value and put an alias or a merge somewhere after it."""
    values = list(re.finditer(rb"(?<=: )|(?<=:)(?=\n)", data))
    if len(values) < 2:
        return data + b"a: &a {b: *a}\n"
    first, second = sorted(draw.sample(range(len(values)), 2))
    name = draw.choice((b"a", b"b"))
    alias = draw.choice((b"*" + name, b"{<<: *" + name + b"}", b"[*a, *b] ", b"*" + name + b" "))
    at = values[second].start()
    data = _replace(data, at, at + draw.choice((0, 3)), b" " + alias)
    at = values[first].start()
    return _replace(data, at, at, b" &" + name + b" ")


def _nest(data: bytes, draw: Random) -> bytes:
    start, end = draw.choice(_tokens(data))
    depth = draw.choice((3, 50, 70, 2000))
    opening, closing = draw.choice(((b"[", b"]"), (b"{a: ", b"}"), (b"- ", b""), (b"? ", b"")))
    return _replace(data, start, end, opening * depth + data[start:end] + closing * depth)


def _bomb(data: bytes, draw: Random) -> bytes:
    """Aliases of lists of aliases: a few lines that say a great many values."""
    levels = draw.randint(3, 12)
    lines = [b"bomb0: &b0 [1, 2, 3, 4, 5, 6, 7, 8, 9]\n"]
    for level in range(1, levels):
        aliases = b", ".join([b"*b%d" % (level - 1)] * 9)
        lines.append(b"bomb%d: &b%d [%s]\n" % (level, level, aliases))
    return data + b"".join(lines)


def _merge_key(data: bytes, draw: Random) -> bytes:
    lines = _lines(data)
    at = draw.randrange(len(lines))
    margin = lines[at][: len(lines[at]) - len(lines[at].lstrip(b" "))]
    key = draw.choice((b"<<", *_KEYS))
    lines.insert(at, margin + key + b": " + draw.choice(_SCALARS) + b"\n")
    return b"".join(lines)


def _recode(data: bytes, draw: Random) -> bytes:
    text = data.decode("utf-8", "replace")
    return text.encode(draw.choice(("utf-16", "utf-16-le", "utf-32", "utf-8-sig")), "replace")


def _end_lines(data: bytes, draw: Random) -> bytes:
    return data.replace(b"\n", draw.choice((b"\r\n", b"\r", b"\n\n", b"\n\r", b"\x00\n", b"")))


def _split_documents(data: bytes, draw: Random) -> bytes:
    lines = _lines(data)
    marks = (b"---\n", b"...\n", b"--- !x\n", b"%TAG ! x\n")
    lines.insert(draw.randrange(len(lines)), draw.choice(marks))
    return b"".join(lines)


Damage = Callable[[bytes, Random], bytes]
_RARE: tuple[Damage, ...] = (_bomb, _recode, _end_lines, _split_documents, _nest, _cut_short)
_TEXT: tuple[Damage, ...] = (
    *(_flip, _lose_bytes, _copy_bytes, _splice_token, _swap_type, _change_value, _add_unicode),
    *(_repeat_line, _lose_lines, _move_lines, _indent, _anchor, _merge_key),
)
_SENSE: tuple[Damage, ...] = (_change_number, _exchange_values, _copy_same_key, _lose_lines)
_DAMAGES = (*_RARE, *_TEXT * 2, *_SENSE * 12)
"""More than half keep the files readable, so that the rules are tried as well."""
