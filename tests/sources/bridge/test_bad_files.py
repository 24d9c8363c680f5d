"""Files that cannot be meant: one clear error at a place, and nothing changed."""

import io
import os
import shutil
from pathlib import Path as FilePath
from typing import Any

import pytest

from jobcheck.cli.main import main
from jobcheck.schema.bridge import Bridge
from jobcheck.shop.places import Place
from jobcheck.sources.bridge.mapping import Mapped, map_values
from jobcheck.sources.state.state import HeldFiles
from tests.support.remedies import in_words

EXAMPLE = FilePath(__file__).resolve().parents[3] / "examples" / "bridged"
LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
SECRET = "file:///etc/hostname"

BAD: dict[str, tuple[str, str | bytes]] = {
    "an entity bomb": ("xml", f'<!DOCTYPE a [<!ENTITY l0 "ha">{LAUGHS}]><a v="&l11;">&l11;</a>'),
    "a quadratic bomb": ("xml", f'<!DOCTYPE a [<!ENTITY x "{"x" * 9999}">]><a>{"&x;" * 9999}</a>'),
    "an external entity": ("xml", f'<!DOCTYPE a [<!ENTITY x SYSTEM "{SECRET}">]><a v="1">&x;</a>'),
    "a parameter entity": ("xml", f'<!DOCTYPE a [<!ENTITY % x SYSTEM "{SECRET}"> %x;]><a v="1"/>'),
    "an attribute entity": ("xml", '<!DOCTYPE a [<!ENTITY x "1">]><a v="&x;"/>'),
    "an attribute's default": ("xml", '<!DOCTYPE a [<!ATTLIST a v CDATA "1">]><a/>'),
    "an entity from elsewhere": ("xml", f'<!DOCTYPE a SYSTEM "{SECRET}"><a v="&x;"/>'),
    "an entity in utf-16": (
        "xml",
        '<?xml version="1.0" encoding="utf-16"?><!DOCTYPE a [<!ENTITY x "1">]><a v="&x;"/>'.encode(
            "utf-16"
        ),
    ),
    "half an element": ("xml", '<a><b v="1"'),
    "no end of an element": ("xml", '<a v="1"><b>'),
    "an attribute twice": ("xml", '<a v="1" v="2"/>'),
    "two roots": ("xml", '<a v="1"/><a/>'),
    "another encoding": ("xml", '<?xml version="1.0" encoding="utf-8"?><a v="1">\xe4</a>'),
    "an encoding that is none": ("xml", '<?xml version="1.0" encoding="utf-nine"?><a v="1"/>'),
    "a NUL": ("xml", b'<a v="1"/>\0'),
    "deep elements": ("xml", "<a>" * 5000 + "</a>" * 5000),
    "two million elements": ("xml", '<a v="1">' + "<b/>" * 2_000_000 + "</a>"),
    "no xml": ("xml", "gain = 4"),
    "a name twice": ("json", '{"v": 1, "v": 2}'),
    "a name twice further in": ("json", '{"v": 1, "w": [{"x": 1, "x": 1}]}'),
    "NaN": ("json", '{"v": NaN}'),
    "infinity": ("json", '{"v": 1, "w": [-Infinity]}'),
    "half an object": ("json", '{"v": 1, "w'),
    "deep lists": ("json", '{"v": ' + "[" * 100_000),
    "a number of 5,000 digits": ("json", '{"v": ' + "9" * 5000 + "}"),
    "a comment in JSON": ("json", '{"v": 1} // gain'),
    "latin-1 in JSON": ("json", b'{"v": 1, "n": "\xe4"}'),
    "a key twice in YAML": ("yaml", "v: 1\nv: 2\n"),
    "an alias bomb": (
        "yaml",
        "a0: &a0 [x, x]\n"
        + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 12)),
    ),
    "NaN in YAML": ("yaml", "v: .nan\n"),
    "half of YAML": ("yaml", "v: [1, 2\n"),
    "a key twice in TOML": ("toml", "v = 1\nv = 2\n"),
    "a table twice in TOML": ("toml", "v = 1\n[a]\n[a]\n"),
    "half of TOML": ("toml", "v = [1,\n"),
    "a key twice in INI": ("ini", "v = 1\n[s]\na=1\na=2\n"),
    "a line that is none": ("ini", "v = 1\n[s\n"),
    "a row twice": ("csv", "k,v\n1,2\n1,3\n"),
    "a ragged row": ("csv", "k,v\n1\n"),
    "an open quote": ("csv", 'k,v\n1,"2\n'),
    "a column twice": ("csv", "k,v,v\n1,2,3\n"),
    "no key column": ("csv", "n,v\n1,2\n"),
    **{f"an empty {kind}": (kind, " \n") for kind in ("xml", "json", "yaml", "toml", "ini", "csv")},
}
ADDRESS = {"xml": "/a/@v", "json": "$.v", "yaml": "$.v", "toml": "$.v", "ini": "v", "csv": "[1] v"}


def mapped(kind: str, data: bytes, values: dict[str, Any] | None = None, **more: Any) -> Mapped:
    entry: dict[str, Any] = {"file": f"f.{kind}", "kind": kind, **more}
    entry["values"] = values or {"cameras.up.controls.gain": ADDRESS[kind]}
    if kind == "csv":
        entry["key_column"] = "k"
    bridge = Bridge.model_validate({"describes": "bridge", "edition": 1, "files": {"f": entry}})
    return map_values(bridge, HeldFiles({f"f.{kind}": data}), lambda path: Place("bridge.yaml"))


@pytest.mark.parametrize("name", BAD)
def test_one_clear_error(name: str) -> None:
    kind, text = BAD[name]
    data = text if isinstance(text, bytes) else text.encode("latin-1")
    found = mapped(kind, data)
    (fault,) = found.faults
    assert fault.place.file == f"f.{kind}"
    assert fault.rule in ("controller-file-malformed", "encoding-wrong")
    assert fault.message.endswith(".")
    assert in_words(fault.remedy)
    assert len(fault.message) < 320
    assert "hostname" not in fault.message
    assert not found.targets


GOOD = {
    "xml": '<a v="1"/>',
    "json": '{"v": 1}',
    "yaml": "v: 1\n",
    "toml": "v = 1\n",
    "ini": "v = 1\n",
    "csv": "k,v\n1,2\n",
}


@pytest.mark.parametrize("kind", GOOD)
@pytest.mark.parametrize("odd", ["\x00", "\x07", "\x1b[31m", "\uffff"])
def test_odd_characters_in_an_address_lead_nowhere_or_say_so(kind: str, odd: str) -> None:
    for address in (odd, ADDRESS[kind] + odd, odd + ADDRESS[kind]):
        found = mapped(kind, GOOD[kind].encode(), {"cameras.up.controls.gain": address})
        assert found.faults or not any(target.hit for target in found.targets), address


def test_a_document_type_that_declares_nothing_is_taken() -> None:
    data = b'<!DOCTYPE a PUBLIC "-//x" "http://localhost:1/x.dtd"><a v="1"><![CDATA[&x;]]></a>'
    assert not mapped("xml", data).faults


def test_a_number_without_end_is_none() -> None:
    (fault,) = mapped("json", b'{"v": 1e999}').faults
    assert fault.rule == "bridge-value-wrong"


@pytest.mark.parametrize(
    ("kind", "data", "address", "says"),
    [
        ("xml", b'<a><b v="1"/><b v="2"/></a>', "//@v", "several values: f.xml:1:10, f.xml:1:20"),
        ("xml", b"<a/>", "count(/a)", "it computes a value"),
        ("xml", b"<a/>", "/a[", "not an XPath"),
        ("xml", b"<a/>", "/x:a", "not an XPath"),
        ("xml", b"<a>1<b/>2</a>", "/a/b/following-sibling::text()", "text beside elements"),
        ("json", b'{"a": [1, 2]}', "$.a[*]", "several values: f.json:1:8, f.json:1:11"),
        ("json", b'{"a": 1}', "$.a[", "not a JSONPath"),
        ("json", b'{"a": 1}', "a.b", "not a JSONPath"),
        ("ini", b"a=1", "[x", "not an address"),
        ("csv", b"k,v\n1,2\n", "[1] w", "no column w; columns: k, v"),
    ],
)
def test_addresses_that_are_wrong_say_so(kind: str, data: bytes, address: str, says: str) -> None:
    (fault,) = mapped(kind, data, {"cameras.up.controls.gain": address}).faults
    assert fault.rule == "bridge-address-wrong"
    assert fault.place.file == "bridge.yaml"
    assert says in fault.message


@pytest.mark.parametrize(
    ("kind", "data", "place", "says"),
    [
        ("xml", b'<a\n v="four"/>', "f.xml:2:5", "is 'four', not a number"),
        ("xml", b'<a v="4.5"/>', "f.xml:1:7", "whole number"),
        ("json", b'{"v": true}', "f.json:1:7", "is 'true', not a number"),
        ("json", b'{"v": {"w": 1}}', "f.json:1:7", "several values"),
        ("yaml", b"v: yes", "f.yaml:1:4", "is 'yes', not a number"),
        ("ini", b"v = 0x1f", "f.ini:1:5", "is '0x1f', not a number"),
    ],
)
def test_a_value_of_another_type_says_where_it_stands(
    kind: str, data: bytes, place: str, says: str
) -> None:
    (fault,) = mapped(kind, data).faults
    assert fault.rule == "bridge-value-wrong"
    assert str(fault.place) == place
    assert "cameras.up.controls.gain" in fault.message
    assert says in fault.message


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("cameras.up.controls", "not a single value"),
        ("cameras.up.gain", "not a single value"),
        ("shop.machine", "not a single value"),
        ("cameras..up", "is not a path"),
    ],
)
def test_targets_that_are_wrong_say_so(path: str, says: str) -> None:
    (fault,) = mapped("json", b'{"v": 1}', {path: "$.v"}).faults
    assert says in fault.message


@pytest.mark.parametrize("file", ["../f.json", "/etc/hostname", "a\\b", "C:/f.json"])
def test_files_outside_the_shop_are_not_read(file: str) -> None:
    entry = {"file": file, "kind": "json", "values": {"traverse_z": "$.v"}}
    bridge = Bridge.model_validate({"describes": "bridge", "edition": 1, "files": {"f": entry}})
    found = map_values(bridge, HeldFiles({file: b'{"v": 1}'}), lambda path: Place("bridge.yaml"))
    (fault,) = found.faults
    assert "outside the shop" in fault.message


def run(root: FilePath, *words: str) -> tuple[int, str]:
    out = io.StringIO()
    code = main(["--shop", str(root), *words], out, out)
    return code, " ".join(out.getvalue().split())


@pytest.mark.parametrize("damage", ["half", "gone", "folder", "link", "empty", "other"])
def test_nothing_changes_for_a_file_that_is_not_whole(tmp_path: FilePath, damage: str) -> None:
    root = tmp_path / "bridged"
    shutil.copytree(EXAMPLE, root)
    assert run(root, "gather", "--write")[0] == 0
    optics = root / "controller" / "optics.xml"
    data = optics.read_bytes()
    optics.unlink()
    if damage == "half":
        optics.write_bytes(data[: len(data) // 2])
    elif damage == "folder":
        optics.mkdir()
    elif damage == "link":
        (tmp_path / "outside.xml").write_bytes(data)
        os.symlink(tmp_path / "outside.xml", optics)
    elif damage in ("empty", "other"):
        optics.write_bytes(b"" if damage == "empty" else b"<bench><eye/></bench>")
    before = {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}
    for words in (
        ["gather", "--write"],
        ["deliver", "cameras.up", "--write"],
        ["restore", "cameras.up", "--deliver", "--write"],
    ):
        code, said = run(root, *words)
        if damage == "other" and words[0] != "gather":
            continue
        assert code == 2, said
        assert "optics.xml" in said
        assert len(said) < 600
    assert {path: path.read_bytes() for path in root.rglob("*") if path.is_file()} == before
    code, said = run(root, "lint")
    assert code == {"gone": 0, "other": 1}.get(damage, 2), said
    assert ("not on this machine" in said) == (damage == "gone")
