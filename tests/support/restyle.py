"""YAML files written in ways that people write and programs do not; what they say stays."""

import re
from collections.abc import Callable
from random import Random

from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.text import NotUnderstood

Lines = list[str]

_ENTRY = re.compile(
    r"(?P<margin> *)(?P<key>[\w-]+):(?P<gap> +)(?P<value>[^\s#\[{&*|>].*?)(?P<rest>| +#.*)"
)
_LENGTH = re.compile(_ENTRY.pattern.replace(r"[\w-]+", r"[xyz]|\w+_mm", 1))
_FLOW_LIST = re.compile(r"(?P<margin> *)(?P<key>[\w-]+): \[(?P<items>[^\[\]{}\"]+)\](?P<rest>.*)")
_FLOW_COMMA = re.compile(r"(?<=[\w}\]]), (?=[\w\"]+: )")


def restyle(data: bytes, seed: int, changes: int = 12, links: bool = False) -> bytes:
    """Return the same document written otherwise; `links` allows anchors with aliases to them.

    A change that would say something else is left out.
    """
    draw = Random(seed)
    ways = [*_WAYS, *([_alias] * 10 if links else [])]
    for _ in range(changes):
        changed = _changed(data, draw.choice(ways), draw)
        if _says(changed) == _says(data):
            data = changed
    return data


def _says(data: bytes) -> str | None:
    try:
        return repr(read_yaml(data, "file").plain)  # 1 and 1.0 are not alike here
    except NotUnderstood:
        return None


def _changed(data: bytes, way: Callable[[Lines, Random], None], draw: Random) -> bytes:
    text = data.decode("utf-8-sig")
    newline = "\r\n" if "\r\n" in text else "\r" if "\r" in text else "\n"
    lines = text.split(newline)
    way(lines, draw)
    new = newline.join(lines)
    if draw.random() < 0.1:
        new = new.replace(newline, draw.choice(["\n", "\r\n", "\r"]))
    return new.encode("utf-8-sig" if data.startswith(b"\xef\xbb\xbf") else "utf-8")


def _at(lines: Lines, draw: Random, pattern: re.Pattern[str]) -> tuple[int, re.Match[str]] | None:
    found = [(i, match) for i, line in enumerate(lines) if (match := pattern.fullmatch(line))]
    return draw.choice(found) if found else None


def _blank(lines: Lines, draw: Random) -> None:
    lines.insert(draw.randrange(len(lines)), draw.choice(["", "   ", ""]))


def _comment(lines: Lines, draw: Random) -> None:
    at = draw.randrange(len(lines))
    margin = re.match(" *", lines[at])
    assert margin is not None
    mark = draw.choice(["# µ Ω 😀", "#", "#: not: {a value", "# - x", "#\t[tab"])
    lines.insert(at, margin[0] * draw.choice([0, 1, 1, 2]) + mark)


def _trailing(lines: Lines, draw: Random) -> None:
    at = draw.choice([at for at, line in enumerate(lines) if line.strip()])
    lines[at] += draw.choice(["  ", "\t", "  # beside: it", "\t# tab"])


def _spaces(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        gap = draw.choice(["   ", "\t", " \t "])
        lines[at] = f"{entry['margin']}{entry['key']} :{gap}{entry['value']}{entry['rest']}"


def _explicit(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        value = f"{entry['margin']}: {entry['value']}{entry['rest']}"
        lines[at : at + 1] = [f"{entry['margin']}? {entry['key']}", value]


def _quoted_key(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        quote = draw.choice("'\"")
        key = f"{quote}{entry['key']}{quote}"
        lines[at] = f"{entry['margin']}{key}:{entry['gap']}{entry['value']}{entry['rest']}"


def _tagged(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        mark = draw.choice(
            ["!!str", "!!int", "!!float", "&mark", "&mark !!str", "!!str &mark", "!"]
        )
        lines[at] = f"{entry['margin']}{entry['key']}: {mark} {entry['value']}{entry['rest']}"


def _spelled(lines: Lines, draw: Random) -> None:
    """Spell a number otherwise, under a key that never holds text."""
    found = _at(lines, draw, _LENGTH)
    if found:
        at, entry = found
        value = draw.choice(["+{}", "0{}", "{}.0", "{}0", "{}e0", "{}.", "'{}'", '"{}"'])
        new = value.format(entry["value"])
        lines[at] = f"{entry['margin']}{entry['key']}: {new}{entry['rest']}"


def _folded(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        head = (
            f"{entry['margin']}{entry['key']}: {draw.choice(['>-', '|-', '>-  # folded', '|1-'])}"
        )
        text = entry["value"].strip("\"'")
        lines[at : at + 1] = [head, f"{entry['margin']} {text}"]


def _next_line(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        head = f"{entry['margin']}{entry['key']}:{entry['rest']}"
        lines[at : at + 1] = [head, f"{entry['margin']}    {entry['value']}"]


def _list_in_lines(lines: Lines, draw: Random) -> None:
    found = _at(lines, draw, _FLOW_LIST)
    if found:
        at, entry = found
        margin = entry["margin"] + " " * draw.choice([0, 2, 4])
        items = [f"{margin}- {item.strip()}" for item in entry["items"].split(",")]
        lines[at : at + 1] = [f"{entry['margin']}{entry['key']}:{entry['rest']}", *items]


def _broken_flow(lines: Lines, draw: Random) -> None:
    """Break a mapping in brackets into lines, with comments in it."""
    found = [i for i, line in enumerate(lines) if "{" in line and _FLOW_COMMA.search(line)]
    if found:
        at = draw.choice(found)
        margin = " " * (len(lines[at]) - len(lines[at].lstrip()) + draw.choice([2, 6]))
        mark = draw.choice([",", ",", ",  # one"])
        lines[at : at + 1] = _FLOW_COMMA.sub(f"{mark}\n{margin}", lines[at]).split("\n")


def _trailing_comma(lines: Lines, draw: Random) -> None:
    found = [i for i, line in enumerate(lines) if re.search(r"[\w\"]}", line)]
    if found:
        at = draw.choice(found)
        lines[at] = re.sub(r"(?<=[\w\"])}", draw.choice([",}", ", }", " }"]), lines[at], count=1)


def _marked(lines: Lines, draw: Random) -> None:
    if draw.random() < 0.5:
        lines[:0] = draw.choice(
            [["---"], ["%YAML 1.2", "---"], ["# first", "--- # begins"], ["", ""]]
        )
    else:
        lines.extend(draw.choice([["..."], ["", "# last"], ["", ""], ["..."]]))


def _alias(lines: Lines, draw: Random) -> None:
    """Have a value repeat an equal one above it."""
    found = _at(lines, draw, _ENTRY)
    if found:
        at, entry = found
        for below in range(at + 1, len(lines)):
            same = _ENTRY.fullmatch(lines[below])
            if same and same["value"] == entry["value"]:
                name = f"a{draw.randrange(1000)}"
                lines[at] = (
                    f"{entry['margin']}{entry['key']}: &{name} {entry['value']}{entry['rest']}"
                )
                lines[below] = f"{same['margin']}{same['key']}: *{name}{same['rest']}"
                return


_WAYS: tuple[Callable[[Lines, Random], None], ...] = (
    *(_blank, _comment, _trailing, _spaces, _explicit, _quoted_key, _tagged, _spelled),
    *(_folded, _next_line, _list_in_lines, _broken_flow, _trailing_comma, _marked),
)
