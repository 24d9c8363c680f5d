"""What lint did not check is named, and what is switched off: in text and for programs."""

import io
import json
import re
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.main import main


def lint(*words: str) -> tuple[int, str]:
    out = io.StringIO()
    code = main(["lint", "--as-of", "2026-11-25", *words], out, io.StringIO())
    return code, out.getvalue()


@pytest.fixture
def unproven(root: FilePath) -> FilePath:
    """A shop with something that cannot be checked: three reels of unknown stock among it."""
    feeders = root / "feeders.yaml"
    text = feeders.read_text()
    assert text.count("remaining: ") > 2
    feeders.write_text(re.sub(r"(, )?remaining: \d+", "", text, count=3))
    return root


def test_every_cause_is_named_at_the_end_and_changes_no_exit_code(unproven: FilePath) -> None:
    code, shown = lint()
    data = json.loads(lint("--format", "json")[1])["shops"][0]["not_checked"]
    end = " ".join(shown[shown.index("\nNot checked:\n") :].split())
    assert code == 0
    assert data
    for one in data:
        assert one["cause"] in end
        assert one["concerns"] in end
        assert one["count"] >= 1
        assert one["enabled_by"]


def test_unchecked_lists_every_value_with_the_key_that_would_enable_it(unproven: FilePath) -> None:
    shown = lint("--unchecked")[1]
    for one in json.loads(lint("--format", "json")[1])["shops"][0]["not_checked"]:
        assert f"write {one['enabled_by']}  [" in shown
        for path in one["paths"]:
            assert f" {path}\n" in shown


def test_programs_get_it_as_notifications(unproven: FilePath) -> None:
    data = json.loads(lint("--format", "json")[1])["shops"][0]["not_checked"]
    run = json.loads(lint("--format", "sarif")[1])["runs"][0]
    told = run["invocations"][0]["toolExecutionNotifications"]
    assert [one["descriptor"]["id"] for one in told] == [one["rule"] for one in data]
    for one, of in zip(told, data, strict=True):
        assert of["cause"] in one["message"]["text"]
        names = [place["logicalLocations"][0]["fullyQualifiedName"] for place in one["locations"]]
        assert names == of["paths"]


def test_the_overview_counts_it(unproven: FilePath) -> None:
    out = io.StringIO()
    main(["--as-of", "2026-11-25"], out, io.StringIO())
    causes = len({one["cause"] for one in _data()})
    values = sum(one["count"] for one in _data())
    assert f"  Not checked  {causes} cause" in out.getvalue()
    assert f"{values:,} values; lint --unchecked lists them" in out.getvalue()


def _data() -> list[dict]:
    found: list[dict] = json.loads(lint("--format", "json")[1])["shops"][0]["not_checked"]
    return found


def test_what_is_switched_off_is_named(root: FilePath) -> None:
    shop = root / "shop.yaml"
    shop.write_text(shop.read_text() + "disabled: {feeder-slot-wrong: moved by hand}\n")
    shown = lint()[1]
    assert "Disabled: feeder-slot-wrong. Not checked by it: " in shown
    assert [one["rule"] for one in json.loads(lint("--format", "json")[1])["shops"][0]["disabled"]]


def test_the_end_of_an_acceptance_is_said(root: FilePath) -> None:
    feeders = root / "feeders.yaml"
    feeders.write_text(feeders.read_text().replace("    slot: 7\n", "    slot: 8\n", 1))
    before = lint()[1]
    assert "[feeder-slot-wrong]" in before
    shop = root / "shop.yaml"
    shop.write_text(
        shop.read_text()
        + "accepted:\n  feeder-slot-wrong:\n"
        + "    feeders.f07.slot: {because: it is moved tomorrow, until: 2027-03-01}\n"
    )
    shown = lint()[1]
    assert "[feeder-slot-wrong]" not in shown
    assert "1 finding is accepted until 2027-03-01: feeder-slot-wrong." in shown
