"""What stands in a file decides how a value is written there."""

from typing import Any

import pytest

from jobcheck.sources.bridge.delivering import deliver_to
from jobcheck.sources.edits.replacing import EditRefused
from tests.sources.bridge.documents import Document

GAIN, CHANNEL, HEIGHT = "cameras.up.controls.gain", "cameras.up.light.channel", "traverse_z"


def deliver(kind: str, data: str, address: str, value: Any, path: str = GAIN, **more: Any) -> str:
    entry = {"file": f"f.{kind}", "kind": kind, "values": {path: {"at": address, **more}}}
    if kind == "csv":
        entry["key_column"] = "k"
    document = Document(kind, data.encode(), entry, {})
    mapped = document.mapped()
    assert not mapped.faults, mapped.faults
    files = deliver_to(mapped, document.bridge, [(mapped.targets[0], value)]).files
    return files[f"f.{kind}"].decode()


@pytest.mark.parametrize(
    ("kind", "data", "address", "value", "expected"),
    [
        ("xml", "<a><b/></a>", "/a/b", 4, "<a><b>4</b></a>"),
        ("xml", "<a><b ></b></a>", "/a/b", 4, "<a><b >4</b></a>"),
        ("xml", "<a>\n <b>\n  1\n </b></a>", "/a/b", 4, "<a>\n <b>\n  4\n </b></a>"),
        ("xml", "<a v=''/>", "/a/@v", 4, "<a v='4'/>"),
        ("xml", "<a/>", "/a/@v", 4, '<a v="4"/>'),
        ("xml", "<a  w='1' ><b/></a>", "/a/@v", 4, "<a  w='1' v='4' ><b/></a>"),
        ("xml", '<a x:v="1" v="2" xmlns:x="u"/>', "/a/@v", 4, '<a x:v="1" v="4" xmlns:x="u"/>'),
        ("json", '{"v": null}', "$.v", 4, '{"v": 4}'),
        ("json", '{"v": 1e0 }', "$.v", 4, '{"v": 4 }'),
        ("json", '{"v": "1"}', "$.v", 4, '{"v": "4"}'),
        ("json", '{\n  "w": [1]\n}\n', "$.v", 4, '{\n  "w": [1],\n  "v": 4\n}\n'),
        ("json", '{"a": {"w": 1}, "z": 0}', "$.a.v", 4, '{"a": {"w": 1,"v": 4}, "z": 0}'),
        ("yaml", "v: 0x0a # ten\n", "$.v", 4, "v: 4 # ten\n"),
        ("yaml", "v: # none\nw: 1\n", "$.v", 4, "v: 4 # none\nw: 1\n"),
        ("toml", "v = 0x0a # ten\n", "$.v", 4, "v = 4 # ten\n"),
        ("toml", "v = 1_000.5\n", "$.v", 4, "v = 4.0\n"),
        ("ini", "[s]\r\nv =\r\nw = 1\r\n", "[s] v", 4, "[s]\r\nv =4\r\nw = 1\r\n"),
        ("ini", "[s]\r\nw = 1 ; one\r\n\r\n[t]\r\n", "[s] v", 4, None),
        ("csv", "k,v\n1,\n", "[1] v", 4, "k,v\n1,4\n"),
    ],
)
def test_a_number_is_put_where_it_belongs(kind, data, address, value, expected) -> None:
    path = HEIGHT if "1_000.5" in data else GAIN
    if expected is None:
        expected = "[s]\r\nw = 1 ; one\r\nv = 4\r\n\r\n[t]\r\n"
    assert deliver(kind, data, address, value, path) == expected


@pytest.mark.parametrize(
    ("kind", "data", "address", "value", "expected"),
    [
        ("xml", "<a v='x'/>", "/a/@v", "a<b & 'c'", "<a v='a&lt;b &amp; &apos;c&apos;'/>"),
        ("xml", "<a>x</a>", "/a", "a<b & 'c'", "<a>a&lt;b &amp; 'c'</a>"),
        ("xml", "<a><![CDATA[x]]></a>", "/a", "a<b & c", "<a><![CDATA[a<b & c]]></a>"),
        ("json", '{"v": "x"}', "$.v", 'a "b" \\ä', '{"v": "a \\"b\\" \\\\ä"}'),
        ("json", '{"v": "\\u00e4"}', "$.v", "ö", '{"v": "\\u00f6"}'),
        ("yaml", "v: 'x'\n", "$.v", "it's", "v: 'it''s'\n"),
        ("yaml", "v: x\n", "$.v", "a: b # c", 'v: "a: b # c"\n'),
        ("toml", "v = 'x'\n", "$.v", 'a "b"', "v = 'a \"b\"'\n"),
        ("toml", 'v = "x"\n', "$.v", 'a "b"', 'v = "a \\"b\\""\n'),
        ("ini", 'v = "x"\n', "v", "a ; b", 'v = "a ; b"\n'),
        ("csv", "k,v\n1,x\n", "[1] v", 'a,"b"', 'k,v\n1,"a,""b"""\n'),
    ],
)
def test_a_text_is_escaped_as_its_file_does(kind, data, address, value, expected) -> None:
    assert deliver(kind, data, address, value, CHANNEL) == expected


@pytest.mark.parametrize(
    ("kind", "data", "address", "value", "says"),
    [
        ("xml", "<a>1<!-- c --></a>", "/a", "x", "interrupted by comments"),
        ("xml", "<a><![CDATA[1]]></a>", "/a", "x]]>", "CDATA"),
        ("xml", "<a/>", "/a/b", "x", "has no place"),
        ("json", '{"v": 1}', "$.v", "x", "would not be read as JSON"),
        ("yaml", "a: &x 1\nb: *x\n", "$.b", "2", "shared"),
        ("yaml", "v: |\n  x\n", "$.v", "y", "over lines"),
        ("toml", 'v = """\nx"""\n', "$.v", "y", "over lines"),
        ("ini", "v = x\n", "v", "a ; b", "needs quotes to keep its value"),
    ],
)
def test_what_cannot_be_written_exactly_is_refused(kind, data, address, value, says) -> None:
    with pytest.raises(EditRefused) as refused:
        deliver(kind, data, address, value, CHANNEL)
    assert says in " ".join(str(refused.value).split())


def test_an_encoding_without_the_character_is_refused() -> None:
    entry = {"file": "f.ini", "kind": "ini", "encoding": "latin-1", "values": {CHANNEL: "v"}}
    document = Document("ini", "v = ä\n".encode("latin-1"), entry, {})
    mapped = document.mapped()
    with pytest.raises(EditRefused, match="lacks a"):
        deliver_to(mapped, document.bridge, [(mapped.targets[0], "€")])


def test_a_value_that_shares_its_place_is_refused() -> None:
    other = "cameras.down.controls.gain"
    entry = {"file": "f.json", "kind": "json", "values": {GAIN: "$.v", other: "$.v"}}
    document = Document("json", b'{"v": 1}', entry, {})
    mapped = document.mapped()
    with pytest.raises(EditRefused, match="both share one place"):
        deliver_to(mapped, document.bridge, [(mapped.targets[0], 2)])
    delivered = deliver_to(mapped, document.bridge, [(target, 2) for target in mapped.targets])
    assert delivered.files == {"f.json": b'{"v": 2}'}


def test_a_number_that_fills_a_text_is_taken_as_it_is_spelled() -> None:
    entry = {"file": "f.yaml", "kind": "yaml", "values": {"cameras.up.device.serial": "$.v"}}
    (target,) = Document("yaml", b"v: 0003\n", entry, {}).mapped().targets
    assert target.value == "0003"
