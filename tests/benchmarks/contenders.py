"""The programs that are measured."""

import json
import pathlib
from collections.abc import Sequence

from tests.benchmarks.measure import Contender, python

AS_OF = "2026-10-15"
"""The day of `tests.support.generate.AS_OF`, not imported from there: see `measure`."""

_COMPOSE = """
import sys, yaml
yaml.compose(open(sys.argv[1], encoding="utf-8"), Loader=yaml.CSafeLoader)
"""

_LOAD_AND_DEEPDIFF = """
import sys, yaml
from deepdiff import DeepDiff
a, b = (yaml.load(open(name, encoding="utf-8"), Loader=yaml.CSafeLoader) for name in sys.argv[1:])
assert DeepDiff(a, b)
"""


_SEEN = """
import sys
import jobcheck.devices.system as system
from jobcheck.cli.main import main
from tests.support.emulated_cameras import Emulated, ordinary
head = ordinary("/dev/video2", "0007", "1.1")
head.node = head.node._replace(usb_id="fff0:0001")
system.Linux = lambda: Emulated(head, ordinary())
sys.exit(main(["seen", "--shop", sys.argv[1]], sys.stdout, sys.stderr))
"""


def seen(shop: pathlib.Path) -> Contender:
    """`jobcheck seen` of two emulated cameras, one of which differs: our own time."""
    return Contender("jobcheck seen, two cameras", python("-c", _SEEN, str(shop)), (1,))


def lint(
    shop: pathlib.Path, name: str = "jobcheck lint", exits: tuple[int, ...] = (0,)
) -> Contender:
    """jobcheck over a shop, without an error where `exits` does not say more."""
    arguments = ["-m", "jobcheck", "lint", "--as-of", AS_OF, "--shop", str(shop)]
    return Contender(name, python(*arguments), exits)


def compose(file: pathlib.Path) -> Contender:
    """A process that only composes one file with PyYAML's C loader; its collector stays on."""
    return Contender("PyYAML's C loader composes", python("-c", _COMPOSE, str(file)))


def yamllint(file: pathlib.Path) -> Contender:
    """yamllint with the preset that checks least."""
    arguments = ["-m", "yamllint", "-d", "relaxed", str(file)]
    return Contender("yamllint -d relaxed", python(*arguments))


def check_jsonschema(files: Sequence[pathlib.Path], schemas: pathlib.Path) -> Contender:
    """check-jsonschema over files of any kind, all in one process.

    It takes one schema: one that chooses ours by what a file describes.
    """
    ours = {file.name.split(".")[0]: json.loads(file.read_text()) for file in schemas.iterdir()}
    choice = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": ours,
        "allOf": [
            {
                "if": {"properties": {"describes": {"const": kind}}},
                "then": {"$ref": schema["$id"]},
            }
            for kind, schema in ours.items()
        ],
    }
    chosen = schemas.with_suffix(".json")
    chosen.write_text(json.dumps(choice))
    arguments = ["-m", "check_jsonschema", "--schemafile", str(chosen), *map(str, files)]
    return Contender("check-jsonschema", python(*arguments))


def diff(before: pathlib.Path, after: pathlib.Path) -> Contender:
    """jobcheck's diff of two shops that differ."""
    arguments = ["-m", "jobcheck", "diff", "--from", str(before), "--shop", str(after)]
    return Contender("jobcheck diff", python(*arguments), exits=(1,))


def deepdiff(before: pathlib.Path, after: pathlib.Path) -> Contender:
    """A process that loads one file of each with PyYAML's C loader, and DeepDiff over both."""
    arguments = ["-c", _LOAD_AND_DEEPDIFF, str(before), str(after)]
    return Contender("PyYAML's C loader and DeepDiff", python(*arguments))


LOADERS = {"xml": "lxml", "json": "json"}
"""The library that a kind of file is measured against."""

_LOAD = {
    "xml": "import sys, lxml.etree; lxml.etree.parse(sys.argv[1])",
    "json": "import sys, json; json.load(open(sys.argv[1], encoding='utf-8'))",
}


def gather(shop: pathlib.Path) -> Contender:
    """jobcheck, comparing a shop with its controller's file."""
    return Contender("jobcheck gather", python("-m", "jobcheck", "gather", "--shop", str(shop)))


def load(kind: str, file: pathlib.Path) -> Contender:
    """A process that only loads a file with the library that is usual for its kind."""
    return Contender(f"{LOADERS[kind]} loads", python("-c", _LOAD[kind], str(file)))
