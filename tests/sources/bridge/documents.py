"""Generated files of a controller, of each kind, as untidy as such files are, with their maps."""

import codecs
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from hypothesis import strategies as st

from jobcheck.schema.bridge import Bridge
from jobcheck.shop.paths import Path, parse
from jobcheck.shop.places import Place
from jobcheck.sources.bridge.mapping import Mapped, map_values
from jobcheck.sources.state.state import HeldFiles

Value = int | float | str

WORDS = st.text("abcdefgh Äß-_.", min_size=1, max_size=12).map(str.strip).filter(bool)
WHOLE = st.integers(-99_999, 99_999)
DECIMAL = st.integers(-10_000_000, 10_000_000).map(lambda n: n / 1000)


@dataclass(frozen=True)
class Document:
    """One file: its bytes, the map of it, and what it says of each path."""

    kind: str
    data: bytes
    entry: dict[str, Any]
    says: dict[Path, Value]

    @property
    def bridge(self) -> Bridge:
        return Bridge.model_validate(
            {"describes": "bridge", "edition": 1, "files": {"f": self.entry}}
        )

    def mapped(self, data: bytes | None = None) -> Mapped:
        files = HeldFiles({self.entry["file"]: self.data if data is None else data})
        return map_values(self.bridge, files, lambda path: Place("bridge.yaml"))


def path_of(number: int, value: Value) -> str:
    """Return a path of the description that holds such a value."""
    if isinstance(value, str):
        return f"cameras.c{number}.light.channel"
    if isinstance(value, int):
        return f"cameras.c{number}.controls.gain"
    return f"spindles.s{number}.offset_from_camera.x"


def spelled(draw: st.DrawFn, value: Value) -> str:
    """Write a number as people and programs do."""
    if isinstance(value, str):
        return value
    text = f"{value:.3f}" if isinstance(value, float) else str(value)
    if isinstance(value, float) and draw(st.booleans()):
        text = repr(value)
    if isinstance(value, float) and draw(st.integers(0, 4)) == 0:
        text = f"{value * 1000:.0f}.0e-3"
    return text


def blank(draw: st.DrawFn) -> str:
    return draw(st.sampled_from(["", " ", "  ", "\t"]))


def _xml(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    encoding = draw(st.sampled_from(["", "utf-8", "iso-8859-1", "windows-1252", "utf-16"]))
    declared = f'<?xml version="1.0" encoding="{encoding}"?>{newline}' if encoding else ""
    lines, addresses = [], {}
    for number, value in enumerate(values):
        raw = _entities(draw, spelled(draw, value))
        quote = draw(st.sampled_from("'\""))
        comment = draw(st.sampled_from(["", "<!-- a < b & c -->", "<?go on?>"]))
        if draw(st.booleans()):
            inner = (
                f"<v{blank(draw)} n={quote}{number}{quote}  w = {quote}{raw}{quote}{blank(draw)}/>"
            )
            addresses[path_of(number, value)] = f"//v[@n='{number}']/@w"
        else:
            content = f"<![CDATA[{spelled(draw, value)}]]>" if draw(st.booleans()) else raw
            inner = f"<e{number}>{blank(draw)}{content}{blank(draw)}</e{number} >"
            addresses[path_of(number, value)] = f"/root/g/e{number}"
        lines.append(f"{blank(draw)}<g a='x&amp;y'>{inner}</g>{comment}")
    return declared + f"<root>{newline}{newline.join(lines)}{newline}</root>", addresses


def _entities(draw: st.DrawFn, text: str) -> str:
    at = draw(st.integers(0, len(text)))
    head, tail = escape(text[:at]), text[at:]
    return head + (f"&#{ord(tail[0])};{escape(tail[1:])}" if tail else "")


def _json(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    parts, addresses = [], {}
    for number, value in enumerate(values):
        ascii_only = draw(st.booleans())
        raw = (
            json.dumps(value, ensure_ascii=ascii_only)
            if isinstance(value, str)
            else spelled(draw, value)
        )
        other = draw(st.sampled_from(["null", "[1, {}]", '"\\u00e9\\n"', "true"]))
        parts.append(
            f'{{"n":{blank(draw)}{number}{blank(draw)},{newline}"x {number}" :{blank(draw)}{raw}'
            f'{newline} , "z":{other}}}'
        )
        addresses[path_of(number, value)] = (
            f"$.list[{number}]['x {number}']"
            if draw(st.booleans())
            else f"$.list[?@.n == {number}]['x {number}']"
        )
    return f'{{"list":{blank(draw)}[{f",{newline}".join(parts)}]}}{newline}', addresses


def _yaml(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    lines, addresses = ["%YAML 1.2", "---"] if draw(st.booleans()) else [], {}
    lines.append("top:")
    for number, value in enumerate(values):
        raw = spelled(draw, value)
        if isinstance(value, str):
            raw = draw(st.sampled_from([json.dumps(value, ensure_ascii=False), f"'{value}'"]))
        comment = draw(st.sampled_from(["", "  # note: this", " #"]))
        if draw(st.booleans()):
            lines.append(f"  k{number}: {blank(draw)}{raw}{comment}")
            addresses[path_of(number, value)] = f"$.top.k{number}"
        else:
            lines.append(f"  f{number}: {{ a: [0 ,{raw} ], b: 1 }}{comment}")
            addresses[path_of(number, value)] = f"$.top.f{number}.a[1]"
    return newline.join(lines) + newline, addresses


def _toml(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    lines, addresses = ["# head", 'title = "x"'], {}
    for number, value in enumerate(values):
        raw = spelled(draw, value)
        if isinstance(value, str):
            raw = draw(st.sampled_from([json.dumps(value, ensure_ascii=False), f"'{value}'"]))
        comment = draw(st.sampled_from(["", " # note"]))
        if draw(st.booleans()):
            lines += [f'[t{number}."in ner"]', f"k.v{blank(draw)}={blank(draw)}{raw}{comment}"]
            addresses[path_of(number, value)] = f"$.t{number}['in ner'].k.v"
        else:
            lines += ["[[rows]]", f"n = {number}", f"c = [ 0, {{ d = {raw} }} ]{comment}"]
            addresses[path_of(number, value)] = f"$.rows[?@.n == {number}].c[1].d"
    return newline.join(lines) + newline, addresses


def _ini(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    lines, addresses = ["; head", "loose = 1"], {}
    for number, value in enumerate(values):
        raw = spelled(draw, value)
        raw = f'"{raw}"' if draw(st.booleans()) else raw
        comment = draw(st.sampled_from(["", " ; note = 1", "\t# note"]))
        mark = draw(st.sampled_from(["=", " = ", ": ", " :"]))
        lines += [f"{blank(draw)}[s {number}]", f"k y{mark}{raw}{comment}", f"other{mark}1", ""]
        addresses[path_of(number, value)] = f"[s {number}] k y"
    return newline.join(lines) + draw(st.sampled_from(["", newline])), addresses


def _csv(draw: st.DrawFn, values: list[Value], newline: str) -> tuple[str, dict[str, str]]:
    lines, addresses = ['name,"a ""b""",c'], {}
    for number, value in enumerate(values):
        raw = spelled(draw, value)
        raw = f'"{raw}"' if draw(st.booleans()) else raw
        lines.append(f'r{number},"x, ""{number}""",{raw}')
        addresses[path_of(number, value)] = f"[r{number}] c"
    return newline.join(lines) + draw(st.sampled_from(["", newline])), addresses


KINDS: dict[str, Callable[..., tuple[str, dict[str, str]]]] = {
    "xml": _xml,
    "json": _json,
    "yaml": _yaml,
    "toml": _toml,
    "ini": _ini,
    "csv": _csv,
}


@st.composite
def documents(draw: st.DrawFn, kind: str) -> Document:
    """Draw a file of a kind."""
    values = draw(st.lists(WORDS | WHOLE | DECIMAL, min_size=1, max_size=6))
    values = [int(value) if value == 0 else value for value in values if value != ""]
    newline = draw(st.sampled_from(["\n", "\r\n"]))
    text, addresses = KINDS[kind](draw, values, newline)
    entry: dict[str, Any] = {"file": f"f.{kind}", "kind": kind, "values": addresses}
    if kind == "csv":
        entry["key_column"] = "name"
    says = {parse(path): value for path, value in zip(addresses, values, strict=True)}
    return Document(kind, _encoded(draw, kind, text, entry), entry, says)


def _encoded(draw: st.DrawFn, kind: str, text: str, entry: dict[str, Any]) -> bytes:
    if kind == "xml":
        declared = text.split('"')[3] if text.startswith("<?xml") else "utf-8"
        mark = codecs.BOM_UTF8 if declared == "utf-8" and draw(st.booleans()) else b""
        return mark + text.encode(declared)
    if kind in ("ini", "csv") and draw(st.booleans()):
        entry["encoding"] = "windows-1252"
        return text.encode("windows-1252")
    mark = codecs.BOM_UTF8 if kind != "toml" and draw(st.booleans()) else b""
    return mark + text.encode()
