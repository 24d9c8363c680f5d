"""Reports for other programs, by published schemas."""

from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path

import jsonschema
import pytest
from lxml import etree

from jobcheck.cli.main import main
from tests.golden.play import EXAMPLES

SCHEMAS = Path(__file__).parent / "schemas"
DRIFTED = EXAMPLES / "soil-logger-drifted"
DAY = ("--as-of", "2026-11-25")


def lint(*words: str) -> tuple[int, str]:
    out = io.StringIO()
    return main(["lint", *words, *DAY], out, out), out.getvalue()


@pytest.mark.parametrize("name", ["soil-logger", "soil-logger-drifted", "bridged"])
def test_junit_is_valid_by_the_schema_that_pytest_uses(name: str) -> None:
    # junit-10.xsd, from pytest's source distribution; JUnit has no official schema
    schema = etree.XMLSchema(file=str(SCHEMAS / "junit-10.xsd"))
    code, text = lint("--shop", str(EXAMPLES / name), "--format", "junit")
    tree = etree.fromstring(text.encode())
    schema.assertValid(tree)
    assert (code == 1) == (int(tree[0].get("failures", "")) > 0)
    assert int(tree[0].get("tests", "")) == len(tree[0])
    failed = {case.get("name") for case in tree[0] if case.find("failure") is not None}
    assert len(failed) == int(tree[0].get("failures", ""))


@pytest.mark.parametrize("name", ["soil-logger", "soil-logger-drifted", "bridged"])
def test_sarif_is_valid_by_its_schema(name: str) -> None:
    # OASIS SARIF 2.1.0, draft-07
    schema = json.loads((SCHEMAS / "sarif-2.1.0.json").read_text())
    _, text = lint("--shop", str(EXAMPLES / name), "--format", "sarif")
    jsonschema.Draft7Validator(schema).validate(json.loads(text))


def test_odd_characters_leave_junit_readable(tmp_path: Path) -> None:
    shop = tmp_path / "a&<b"
    shutil.copytree(EXAMPLES / "soil-logger", shop)
    machine = shop / "placer.yaml"
    machine.write_text(machine.read_text().replace("carries: ", 'carries: "]]>\\u0001&" # '))
    _, text = lint("--shop", str(shop), "--format", "junit")
    assert etree.fromstring(text.encode())[0].get("name") == "a&<b"


def test_sarif_fingerprints_stay_when_lines_move(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(DRIFTED, shop)

    def prints() -> dict[str, int]:
        results = json.loads(lint("--shop", str(shop), "--format", "sarif")[1])["runs"][0][
            "results"
        ]
        places = (one["locations"][0]["physicalLocation"]["region"] for one in results)
        keys = [one["partialFingerprints"]["rulePath/v1"] for one in results]
        return dict(zip(keys, (place["startLine"] for place in places), strict=True))

    before = prints()
    assert len(before) > 3
    for file in ("placer.yaml", "parts.yaml", "feeders.yaml"):
        (shop / file).write_text("# one line more\n" + (shop / file).read_text())
    after = prints()
    assert after.keys() == before.keys()
    assert any(after[key] == before[key] + 1 for key in after)


def test_an_editor_s_text_is_linted_in_place_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger", shop)
    machine = shop / "placer.yaml"
    held = machine.read_bytes()
    edited = held.replace(b"gain: 4 ", b"gain: 900 ").replace(b"gain: 4\n", b"gain: 900\n")
    assert edited != held
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(edited)))
    code, text = lint("--stdin-as", str(machine), "-", "--format", "lines")
    assert code == 1
    assert "camera up does not accept gain 900" in text
    assert machine.read_bytes() == held
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(held)))
    assert lint("--stdin-as", str(machine), "-")[0] == 0
    assert lint("--stdin-as", str(machine), "other.yaml")[0] == 2
    assert lint("--stdin-as", str(tmp_path / "none" / "x.yaml"), "-")[0] == 2
