"""The command line as such: its commands, its words from habit, its exit codes."""

import errno
import io
import json
from pathlib import Path as FilePath

import pytest

from jobcheck.cli.group import COMMANDS, HABITS, cli
from jobcheck.cli.main import main
from jobcheck.rules.base import SECTIONS
from jobcheck.rules.registry import RULES
from tests.golden.play import EXAMPLES


def call(*words: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    return main(words, out, err), out.getvalue(), err.getvalue()


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_where_the_registry_says(command: str, capsys) -> None:
    code, _, complaints = call(command, "--help")
    assert (code, complaints) == (0, "")
    shown = capsys.readouterr().out
    for option in ("--shop", "--format", "--quiet", "--color", "--as-of", "-h, --help"):
        assert option in shown


def test_no_command_is_left_out_of_the_registry() -> None:
    for command in COMMANDS:
        cli.get_command(None, command)  # type: ignore[arg-type]
    assert set(cli.commands) == set(COMMANDS)


@pytest.mark.parametrize(("word", "wanted"), HABITS.items())
def test_a_word_from_habit_is_answered_with_the_right_command(word: str, wanted: str) -> None:
    code, printed, complaints = call(word)
    assert (code, printed) == (2, "")
    assert wanted in complaints


SHOP = ("--shop", str(EXAMPLES / "soil-logger"))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lnit",), "You may want: lint"),
        (("lint", "--fromat", "json"), "--format"),
        (("lint", "--format", "yaml"), "yaml"),
        (("lint", "--as-of", "yesterday"), "not a date"),
        (("restore",), "SELECTION"),
        (("keep",), "--label"),
        (("explain", "feeder-slot-share"), "feeder-slot-wrong"),
        (("lint", "--staged", "here"), "index alone"),
        (("rules", "--format", "sarif"), "'sarif' is not one of 'text', 'json'"),
        (("--format", "json", "keep", "--label", "a"), "no --format json"),
        (("where", "R1", "R2"), "argument (R2). See: jobcheck where --help"),
        (
            ("lint", *SHOP, "--only", "camera-missing", "--skip", "camera-missing"),
            "No rule is left",
        ),
    ],
)
def test_a_call_that_cannot_be_understood_says_why(words: tuple[str, ...], says: str) -> None:
    code, printed, complaints = call(*words)
    assert (code, printed) == (2, "")
    assert says in complaints


def test_a_fault_of_ours_gives_a_short_report(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("jobcheck.commands.rules.catalogue", broken)
    code, printed, complaints = call("rules")
    assert (code, printed) == (3, "")
    assert "fault in jobcheck" in complaints
    assert "ZeroDivisionError: planted" in complaints
    assert "/" not in complaints.replace("file/", "")


def test_output_that_takes_no_more_is_no_fault_of_ours() -> None:
    class Full(io.StringIO):
        def write(self, _: str) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    err = io.StringIO()
    assert main(["rules"], Full(), err) == 2
    assert err.getvalue() == "The output cannot be written: No space left on device.\n"


def test_a_name_alone_is_answered_with_the_paths_that_end_in_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(EXAMPLES / "soil-logger")
    assert call("restore", "f12")[2] == "Nothing is called f12. Near: feeders.f12.\n"
    assert "Near: cameras.up," in call("restore", "up")[2]
    assert "Near: jobs.soil-logger.placements," in call("diff", "--only", "placements")[2]


def test_next_of_a_new_shop_can_be_pasted(
    tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    printed = call("new", "my shop")[1]
    assert printed.endswith("\nNext\n  jobcheck lint 'my shop'\n")
    assert all(len(line) <= 80 for line in printed.splitlines())


def test_version() -> None:
    code, _, _ = call("--version")
    assert code == 0


def test_all_of_the_documentation_of_a_rule_is_shown_with_its_levels() -> None:
    page = call("rules", "--page")[1]
    data = {entry["rule"]: entry for entry in json.loads(call("rules", "--format", "json")[1])}
    assert set(data) == {rule.name for rule in RULES}
    for rule in RULES:
        explained = " ".join(call("explain", rule.name)[1].split())
        assert f"[{rule.name}](#{rule.name})" in page
        assert data[rule.name]["levels"] == [level.value for level in rule.levels]
        assert f"({' or '.join(data[rule.name]['levels'])})" in explained
        written = " ".join(rule.documentation.split())
        for title in SECTIONS:
            written = written.replace(f" {title}: ", "\n")
        said = {data[rule.name]["checks"], *data[rule.name]["more"]}
        said |= {data[rule.name][title.lower().replace(" ", "_")] for title in SECTIONS}
        for text in said:
            assert text in explained
            assert text in page
            written = written.replace(text, "")
        assert written.strip() == "", rule.name


BRIDGED = ("--shop", str(EXAMPLES / "bridged"))
OPTICS = str(EXAMPLES / "bridged/controller/optics.xml")
WORDS: dict[str, tuple[str, ...]] = {
    "lint": SHOP,
    "diff": SHOP,
    "restore": ("cameras.up", *SHOP),
    "history": SHOP,
    "where": ("D1", *SHOP),
    "rules": (),
    "gather": ("--check", *BRIDGED),
    "deliver": ("cameras.up", *BRIDGED),
    "find": (OPTICS, "4"),
    "proof": SHOP,
    "preflight": ("soil-logger", *SHOP),
    "used": ("soil-logger", "--panels", "1", "--run", "first", *SHOP),
    "schema": (),
}
"""Calls of commands that report in more than text; the others need a device, a list or a log."""


def formats_of(command: str) -> tuple[str, ...]:
    made = cli.get_command(None, command)  # type: ignore[arg-type]
    return next(tuple(one.type.choices) for one in made.params if one.name == "format")


@pytest.mark.parametrize("command", WORDS)
def test_every_format_that_a_help_offers_is_reported(command: str) -> None:
    for form in formats_of(command):
        code, printed, complaints = call(command, *WORDS[command], "--format", form)
        assert code in (0, 1), complaints
        if form in ("json", "sarif"):
            assert json.loads(printed) is not None


def test_the_other_commands_offer_text_or_have_tests_of_their_own() -> None:
    rest = {command: formats_of(command) for command in COMMANDS if command not in WORDS}
    more = {command for command, formats in rest.items() if formats != ("text",)}
    assert more <= {"import", "seen", "set", "repeatability", "capability"}
