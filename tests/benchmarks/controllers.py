"""Writes a shop whose controller's file has 20 MB: `python -m tests.benchmarks.controllers`."""

import argparse
import json
import pathlib
import random
import shutil

STARTER = pathlib.Path(__file__).parents[2] / "jobcheck" / "commands" / "starter"
MAPS = {
    "xml": """\
    each:
      nozzles:
        at: /bench/part[position() <= 200]
        key: "@n"
        values: {tip_outer_mm: tip/@outer, bore_mm: tip/@bore, length_mm: long}
    values:
      cameras.up.controls.gain: /bench/eye/gain
""",
    "json": """\
    each:
      nozzles:
        at: $.parts[:200]
        key: $.n
        values: {tip_outer_mm: $.tip.outer, bore_mm: $.tip.bore, length_mm: $.long}
    values:
      cameras.up.controls.gain: $.eye.gain
""",
}


def write(folder: pathlib.Path, kind: str, megabytes: int) -> None:
    """Copy the starter shop and give it a controller's file of a size, with a map."""
    shutil.copytree(STARTER, folder)
    root = folder / "shop.yaml"
    root.write_text(root.read_text(encoding="utf-8") + "bridge: bridge.yaml\n", encoding="utf-8")
    head = (
        f"describes: bridge\nedition: 1\nfiles:\n  all:\n    file: all.{kind}\n    kind: {kind}\n"
    )
    (folder / "bridge.yaml").write_text(head + MAPS[kind], encoding="utf-8")
    draw = random.Random(1)
    count = megabytes * 1_000_000 // (134 if kind == "xml" else 161)
    parts = [_part(number, draw) for number in range(count)]
    text = _xml(parts) if kind == "xml" else _json(parts)
    (folder / f"all.{kind}").write_text(text, encoding="utf-8")


def _part(number: int, draw: random.Random) -> dict[str, object]:
    return {
        "n": f"part-{number}",
        "tip": {"outer": round(draw.uniform(0.5, 4), 3), "bore": round(draw.uniform(0.1, 0.4), 3)},
        "long": round(draw.uniform(8, 20), 2),
        "words": f"taken {draw.randrange(1000)} times, dropped {draw.randrange(9)}",
        "on": draw.random() < 0.5,
    }


def _json(parts: list[dict[str, object]]) -> str:
    return json.dumps({"eye": {"gain": 4}, "parts": parts}, indent=1)


def _xml(parts: list[dict[str, object]]) -> str:
    lines = ["<bench><eye><gain>4</gain></eye>"]
    for part in parts:
        tip = part["tip"]
        assert isinstance(tip, dict)
        lines.append(
            f' <part n="{part["n"]}" on="{part["on"]}"><tip outer="{tip["outer"]}" '
            f'bore="{tip["bore"]}"/><long>{part["long"]}</long>\n  <words>{part["words"]}</words>'
            "</part>"
        )
    return "\n".join([*lines, "</bench>"])


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.controllers")
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("kind", choices=MAPS)
    parser.add_argument("--megabytes", type=int, default=20)
    given = parser.parse_args()
    write(given.folder, given.kind, given.megabytes)


if __name__ == "__main__":
    main()
