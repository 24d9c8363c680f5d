"""The command line as such: its commands, its words from habit, its exit codes."""

import io

import pytest

from jobcheck.cli import main
from jobcheck.cli.group import COMMANDS, HABITS, cli


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


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lnit",), "You may want: lint"),
        (("lint", "--fromat", "json"), "--format"),
        (("lint", "--format", "yaml"), "yaml"),
        (("lint", "--as-of", "yesterday"), "no date"),
        (("restore",), "SELECTION"),
        (("keep",), "--label"),
        (("explain", "feeder-slot-share"), "feeder-slot-shared"),
        (("lint", "--staged", "here"), "index alone"),
        (("rules", "--format", "sarif"), "no --format sarif"),
    ],
)
def test_a_call_that_cannot_be_understood_says_why(words: tuple[str, ...], says: str) -> None:
    code, printed, complaints = call(*words)
    assert (code, printed) == (2, "")
    assert says in complaints


def test_a_fault_of_ours_gives_a_short_report(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("jobcheck.commands.rules.areas", broken)
    code, printed, complaints = call("rules")
    assert (code, printed) == (3, "")
    assert "fault in jobcheck" in complaints
    assert "ZeroDivisionError: planted" in complaints
    assert "/" not in complaints.replace("file/", "")


def test_version() -> None:
    code, _, _ = call("--version")
    assert code == 0
