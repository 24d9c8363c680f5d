"""Law 4 over generated shops and random edits: diff then apply is identity."""

import copy
import json
from dataclasses import replace
from functools import cache
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobcheck.changes.apply import apply, within
from jobcheck.changes.diff import diff
from jobcheck.changes.groups import groups
from jobcheck.facts.facts import Facts
from jobcheck.shop.paths import Path, look_up
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import same
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State
from jobcheck.sources.yaml.reader import read_yaml
from tests.changes.edits import edited_plain, mappings
from tests.support.generate import Size, make_files

SHOPS = 8


@cache
def files_by(seed: int) -> dict[str, bytes]:
    size = Size(placements=12, parts=6, jobs=1 + seed % 2, inline=bool(seed % 3))
    return make_files(seed, size)


@cache
def shop_by(seed: int) -> Shop:
    shop = read_shop(State("made", HeldFiles(files_by(seed)), "made")).shop
    assert shop is not None
    return shop


def pair(seed: int) -> tuple[Shop, Shop, Random]:
    """Two states of one shop: edited from a common one, at times both."""
    draw = Random(seed)
    shop = shop_by(draw.randrange(SHOPS))
    old = edited_plain(shop.plain, draw, 3) if draw.random() < 0.5 else shop.plain
    return replace(shop, plain=old), replace(shop, plain=edited_plain(old, draw)), draw


def in_one_circle(plain: Any, key: str = "") -> Any:
    """Return plain values with angles from 0 to 360: a turn by a full circle is not a change."""
    if isinstance(plain, dict):
        return {name: in_one_circle(value, name) for name, value in plain.items()}
    is_angle = (
        key in ("rotation", "feed_direction", "attitude")
        and isinstance(plain, (int, float))
        and abs(plain) < 1e6
    )
    return plain % 360 if is_angle else plain


def check_identity(seed: int) -> None:
    old, new, _ = pair(seed)
    before = copy.deepcopy(old.plain)
    changes = diff(old, new)
    assert same(in_one_circle(apply(old.plain, changes)), in_one_circle(new.plain))
    assert old.plain == before, "apply changed what it was given"
    assert (changes == ()) == same(in_one_circle(old.plain), in_one_circle(new.plain))
    assert diff(new, replace(new, plain=copy.deepcopy(new.plain))) == ()


def check_selection(seed: int) -> None:
    """Putting back a selection empties the diff of it and changes nothing outside it."""
    now, good, draw = pair(seed)
    selection = choose(now, good, draw)
    put_back = replace(now, plain=apply(now.plain, within(diff(now, good), selection)))
    assert within(diff(put_back, good), selection) == ()
    assert diff(put_back, good, only=selection) == ()
    if selection:
        assert same(without(put_back.plain, selection), without(now.plain, selection))


def choose(now: Shop, good: Shop, draw: Random) -> Path:
    """A path that stands in one of the two, no path into a list."""
    plain = draw.choice([now, good]).plain
    path, mapping = draw.choice(list(mappings(plain)))
    return (*path, draw.choice(list(mapping)))[: draw.randint(1, 5)]


def without(plain: object, path: Path) -> object:
    """A copy without what stands at a path."""
    plain = copy.deepcopy(plain)
    holder = look_up(plain, path[:-1])
    if isinstance(holder, dict):
        holder.pop(path[-1], None)
    return plain


def check_order(seed: int) -> None:
    """The order of keys in the files changes neither the changes nor their order."""
    old, new, draw = pair(seed)
    turned, again = (replace(shop, plain=reordered(shop.plain, draw)) for shop in (old, new))
    assert diff(turned, again) == diff(old, new)


def reordered(plain: Any, draw: Random) -> Any:
    if not isinstance(plain, dict):
        return plain
    items = [(key, reordered(value, draw)) for key, value in plain.items()]
    draw.shuffle(items)
    return dict(items)


def check_faulty_shops(seed: int) -> None:
    """Shops with faults of their own compare as well, and each change is in one group."""
    draw = Random(seed)
    old, files = shop_by(which := draw.randrange(SHOPS)), dict(files_by(which))
    name = draw.choice([name for name in files if name.endswith(".yaml")])
    plain = edited_plain(read_yaml(files[name], name).plain, draw)
    new = read_shop(State("edited", HeldFiles(files | {name: as_json(plain)}), "made")).shop
    if new is None:
        return
    for one, other in ((old, new), (new, old)):
        changes = diff(one, other)
        assert same(apply(one.plain, changes), other.plain)
        grouped = [
            change
            for group in groups(changes, Facts(one), Facts(other))
            for change in group.changes
        ]
        assert sorted(grouped, key=lambda change: change.order) == list(changes)


def as_json(plain: object) -> bytes:
    return json.dumps(plain).encode()


CHECKS = (check_identity, check_selection, check_order, check_faulty_shops)
SEEDS = st.integers(0, 2**32)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
@settings(max_examples=60)
@given(seed=SEEDS)
def test_laws(check, seed):
    check(seed)


@pytest.mark.long
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
@settings(max_examples=10_000)
@given(seed=SEEDS)
def test_laws_in_the_long_run(check, seed):
    check(seed)


def test_files_read_in_another_style_are_the_same_shop():
    """Number spelling, quoting, flow and order of documents are no change."""
    shop = shop_by(0)
    spelled = json.loads(json.dumps(shop.plain), parse_int=float)
    assert diff(shop, replace(shop, plain=spelled)) == ()
