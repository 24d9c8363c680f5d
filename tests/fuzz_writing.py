"""Writing commands on input that was changed a little: most succeed, and what they write is true.

`python -m tests.fuzz_writing --cases 1000` imports lists, takes over listings of a camera and keeps
records. Whatever comes of a call: no crash, no other file is changed, a refusal changes nothing,
repeating it changes nothing more, and what was written reads as it was given.
"""

import argparse
import io
import pathlib
import re
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from random import Random

from jobcheck.cli.main import main as jobcheck
from jobcheck.known_good.store import Record, Records
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from tests.fuzz import Failed
from tests.kills import EXAMPLES, tree
from tests.support.mutate import mutate

SHOP = EXAMPLES / "soil-logger"
LIST = SHOP / "jobs/soil-logger/placements.csv"
LISTING = pathlib.Path(__file__).parent / "golden/listings/set.txt"
DAY = ("--as-of", "2026-11-26")


def _run(shop: pathlib.Path, *words: str) -> int:
    said = io.StringIO()
    code = jobcheck([*DAY, "--shop", str(shop), *words], said, said)
    if code not in (0, 1, 2):
        raise Failed(f"exit {code}: {said.getvalue()}")
    return code


def _changed(data: bytes, draw: Random) -> bytes:
    """Change numbers and names, move, lose and repeat lines, or do any damage at all."""
    if draw.random() < 0.3:
        return mutate({"it": data}, draw).get("it", b"")
    lines = data.splitlines(keepends=True)
    for _ in range(draw.randint(1, 4)):
        at = draw.randrange(1, len(lines))
        way = draw.randrange(5)
        if way == 0:
            lines.insert(draw.randrange(1, len(lines)), lines.pop(at))
        elif way == 1 and len(lines) > 2:
            del lines[at]
        elif way == 2:
            lines[at] = lines[at].replace(b"\n", b"\r\n")
        elif way == 3:
            lines[at] = re.sub(rb"\d+", str(draw.randrange(300)).encode(), lines[at], count=1)
        else:
            lines[at] = lines[at].replace(b"cap-", draw.choice((b"cap-", b"x-", b"\xc3\xa9-")))
    return b"".join(lines)


def _measured_anew(data: bytes, draw: Random) -> bytes:
    """Change the last digit of a few numbers, or do any damage at all."""
    if draw.random() < 0.3:
        return _changed(data, draw)
    places = [found.end() - 1 for found in re.finditer(rb"\d\.\d+(?=[,}\s])", data)]
    changed = bytearray(data)
    for place in draw.sample(places, draw.randint(1, 3)):
        changed[place] = ord("0") + draw.randrange(10)
    return bytes(changed)


def import_a_list(shop: pathlib.Path, draw: Random) -> bool:
    """A list of placements becomes a job that has as many."""
    (shop.parent / "list.csv").write_bytes(_changed(LIST.read_bytes(), draw))
    declared = ("--units", "mm", "--zero", "A", "--decimal", ".", "--write")
    words = ("import", str(shop.parent / "list.csv"), "--job", "second", *declared)
    done = _twice(shop, words, {"jobs/second/job.yaml", "jobs/second/placements.csv", "parts.yaml"})
    job = shop / "jobs/second"
    if done and not (job / "placements.csv").read_bytes():
        raise Failed("the imported list is empty")
    return done


def see_a_listing(shop: pathlib.Path, draw: Random) -> bool:
    """A listing of the camera is compared, and its ranges are taken over."""
    (shop.parent / "up.txt").write_bytes(_changed(LISTING.read_bytes(), draw))
    words = ("seen", "up", str(shop.parent / "up.txt"), "--ranges", "--write")
    return _twice(shop, words, {"placer.yaml"})


def keep_a_record(shop: pathlib.Path, draw: Random) -> bool:
    """A changed shop is recorded whole, or not at all."""
    name = draw.choice(("placer.yaml", "parts.yaml", "feeders.yaml"))
    (shop / name).write_bytes(_measured_anew((shop / name).read_bytes(), draw))
    old, files = tree(shop), read_shop(folder_state(shop)).files
    if _run(shop, "keep", "--label", "fuzzed"):
        if tree(shop) != old:
            raise Failed("a refused record left something")
        return False
    (last,) = (one for one in Records(folder_state(shop)).verified()[3:])
    if not isinstance(last, Record):
        raise Failed(str(last))
    kept = tree(shop / last.entry.folder)
    if any(kept[file] != old[file] for file in files):
        raise Failed("a record holds other bytes than the shop")
    if any(tree(shop)[file] != data for file, data in old.items()):
        raise Failed("keep changed a file")
    return True


def _twice(shop: pathlib.Path, words: tuple[str, ...], may_change: set[str]) -> bool:
    """Run a command twice; return whether it wrote."""
    old = tree(shop)
    code, new = _run(shop, *words), tree(shop)
    changed = {name for name in {*old, *new} if old.get(name) != new.get(name)}
    if not changed <= may_change:
        raise Failed(f"{', '.join(changed - may_change)} changed")
    if code == 2 and changed and "jobs/second/job.yaml" not in changed:
        raise Failed(f"refused, but {', '.join(changed)} changed")
    if "placer.yaml" in changed and read_shop(folder_state(shop)).faults:
        raise Failed("what was written is not understood")
    _run(shop, *words)
    if tree(shop) != new:
        raise Failed("repeating it changed something more")
    return bool(changed)


WAYS: tuple[Callable[[pathlib.Path, Random], bool], ...] = (
    import_a_list,
    see_a_listing,
    keep_a_record,
)


def run(cases: int, seed: int) -> tuple[Counter[str], list[str]]:
    """Return how often each command wrote, and what failed."""
    wrote: Counter[str] = Counter()
    failures = []
    with tempfile.TemporaryDirectory() as place:
        for number in range(cases):
            for way in WAYS:
                shop = pathlib.Path(place) / "shop"
                shutil.rmtree(shop, ignore_errors=True)
                shutil.copytree(SHOP, shop)
                try:
                    wrote[way.__name__] += way(shop, Random(f"{seed}/{number}"))
                except Exception as error:
                    failures.append(f"{way.__name__} {number}: {type(error).__name__}: {error}")
    return wrote, failures


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz_writing", description=__doc__)
    parser.add_argument("--cases", type=int, default=1_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    wrote, failures = run(given.cases, given.seed)
    print("\n".join(failures[:20]))
    done = ", ".join(f"{name} {count:,}" for name, count in wrote.items())
    print(f"{given.cases:,} calls of each; wrote: {done}. {len(failures)} failures.")
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
