"""Every state of description, record and controller, from the proposed commands to agreement."""

import json
import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path as FilePath

import pytest

from tests.commands.test_bridge import EXAMPLE, OPTICS, SHELF, SHUTTER, Shop

LOST = '<shutter who="device" slows="no"/>'
GAIN = "cameras.up.controls.gain"


def here(shop: Shop) -> None:
    shop.edit("placer.yaml", "gain: 4", "gain: 6")


def there(shop: Shop) -> None:
    shop.edit(OPTICS, "<amplify>4<", "<amplify>9<")


def both(shop: Shop) -> None:
    here(shop)
    there(shop)


def both_alike(shop: Shop) -> None:
    """The controller changed, was gathered, and the description was put back alone."""
    there(shop)
    gathered(shop)
    assert shop.run("restore", GAIN, "--write") == 0


def lost_there(shop: Shop) -> None:
    shop.edit(OPTICS, SHUTTER, LOST)


def element_lost_there(shop: Shop) -> None:
    shop.edit(OPTICS, "    <amplify>4</amplify>\n", "")


def lost_on_both(shop: Shop) -> None:
    lost_there(shop)
    gathered(shop)


def lost_here(shop: Shop) -> None:
    text = shop.read("placer.yaml").decode()
    shop.root.joinpath("placer.yaml").write_text(re.sub(r"\n +gain: 4[^\n]*", "", text))


def measured_on_both(shop: Shop) -> None:
    shop.edit("feeders.yaml", "x: 52.99", "x: 53.01")
    shop.edit(SHELF, "52.99", "53.20")


def measured_there(shop: Shop) -> None:
    shop.edit(SHELF, "52.99", "53.20")
    shop.edit(OPTICS, "236400 30200", "236500 30200")


def added_here(shop: Shop) -> None:
    """A control that neither the record nor the controller has yet."""
    text = shop.read("placer.yaml").decode()
    (row,) = re.findall(r"\n +gamma: 110[^\n]*", text)
    shop.edit("placer.yaml", row, "")
    shop.edit(OPTICS, " gamma='110'", "")
    assert shop.run("keep", "--label", "no gamma", "--on-purpose", "cameras.up") == 0, shop.said
    gathered(shop)
    (shop.root / "placer.yaml").write_text(text)


def added_there(shop: Shop) -> None:
    lane = {"tag": "lane f90", "on": True, "takes": "res-10k-0603", "left": 5}
    lane["grab"] = {"at": [1, 2.5], "depth": 18, "turn": 0}
    lanes(shop, lambda found: [*found, lane])


def renamed_there(shop: Shop) -> None:
    shop.edit(SHELF, '"lane f03"', '"lane f93"')


def gone_there(shop: Shop) -> None:
    lanes(shop, lambda found: [lane for lane in found if lane["tag"] != "lane f34"])


def lanes(shop: Shop, change: Callable[[list[dict[str, object]]], object]) -> None:
    data = json.loads(shop.read(SHELF))
    data["lanes"] = change(data["lanes"])
    (shop.root / SHELF).write_text(json.dumps(data, indent=1))


def gathered(shop: Shop) -> None:
    assert shop.run("gather", "--write") == 0, shop.said


STATES = [here, there, both, both_alike, lost_there, lost_on_both, lost_here, measured_on_both]
STATES += [element_lost_there, measured_there, added_here, added_there, renamed_there, gone_there]
AS_RECORDED = [here, there, both, both_alike, lost_there, lost_on_both, lost_here]
AS_RECORDED += [element_lost_there, measured_on_both, measured_there]


@pytest.fixture(params=["gathered", "fresh clone", "second machine"])
def shop(request: pytest.FixtureRequest, tmp_path: FilePath) -> Shop:
    """The example: gathered here; never gathered; or never, beside another machine's files."""
    shutil.copytree(EXAMPLE, tmp_path / "shop")
    made = Shop(tmp_path / "shop")
    if request.param == "gathered":
        gathered(made)
    if request.param == "second machine":
        made.edit(OPTICS, "saved=", "by-machine='2' saved=")
    return made


def copy_of(shop: Shop, name: str) -> Shop:
    copy = Shop(shop.root.parent / name / "shop")
    shutil.copytree(shop.root, copy.root)
    return copy


def proposed(said: str) -> list[list[str]]:
    """Return the commands of a screen that change a side, without program, shop and --write."""
    found = []
    for line in said.splitlines():
        words = shlex.split(line) if re.match(r"\s+(do\s+)?jobcheck ", line) else []
        words = words[words.index("jobcheck") + 1 :] if words else []
        if words and words[0] in ("restore", "gather", "deliver"):
            shop_at = words.index("--shop") if "--shop" in words else len(words)
            kept = words[:shop_at] + words[shop_at + 2 :]
            found.append([word for word in kept if word != "--write"])
    return found


def test_a_walk_leads_to_agreement_in_at_most_two_steps(shop: Shop) -> None:
    clean = shop.root
    for state in STATES:
        made = copy_of(Shop(clean), state.__name__)
        state(made)
        made.run("lint")
        ways = proposed(made.said)
        assert ways, (state.__name__, made.said)
        for number, words in enumerate(ways):
            walk(made, f"{state.__name__}-{number}", words)


def walk(state: Shop, name: str, words: list[str]) -> None:
    """Go one way; where it is refused, go every way that the refusal names."""
    copy = copy_of(state, name)
    code = copy.run(*words, "--write")
    said = copy.said
    if copy.run("gather", "--check") == 0:
        return
    copy.run("lint")
    more = proposed(said) if code else proposed(copy.said)
    assert more, (name, words, said)
    for number, then in enumerate(more):
        again = copy_of(copy, f"{name}-{number}")
        assert again.run(*then, "--write") == 0, (name, words, then, again.said)
        assert again.run("gather", "--check") == 0, (name, words, then, again.said)


def test_the_first_way_keeps_the_recorded_values(shop: Shop) -> None:
    clean = shop.tree()
    for state in AS_RECORDED:
        made = copy_of(shop, state.__name__)
        state(made)
        made.run("lint")
        words = proposed(made.said)
        assert made.run(*words[0], "--write") == 0, (state.__name__, made.said)
        while made.run("lint") and len(words) < 9 and proposed(made.said):
            words.append(proposed(made.said)[0])
            assert made.run(*words[-1], "--write") == 0, (state.__name__, made.said)
        for name in (OPTICS, SHELF, "placer.yaml", "feeders.yaml"):
            assert made.read(name) == clean[name], (state.__name__, name, words)


def test_no_two_commands_propose_each_other(shop: Shop) -> None:
    for state in STATES:
        made = copy_of(shop, state.__name__)
        state(made)
        made.run("lint")
        waiting = proposed(made.said)
        names: dict[tuple[str, ...], list[list[str]]] = {}
        while waiting:
            words = waiting.pop()
            if tuple(words) not in names:
                made.run(*words)
                names[tuple(words)] = [one for one in proposed(made.said) if one != words]
                waiting += names[tuple(words)]
        for key, others in names.items():
            for other in others:
                assert list(key) not in names[tuple(other)], (state.__name__, key, other)
