"""A git repository to commit to, as a user has one, and what came of a commit."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).parents[2]
SETTINGS = """\
[user]
    name = A Bench
    email = bench@invalid
[init]
    defaultBranch = main
    templateDir =
[core]
    quotePath = false
"""


@dataclass(frozen=True)
class Outcome:
    """The exit code of a program and all that it printed."""

    code: int
    text: str

    @property
    def passed(self) -> bool:
        return self.code == 0

    @property
    def hook_code(self) -> int:
        """The hook's own exit code, which pre-commit tells where it is not 0."""
        lines = [line for line in self.text.splitlines() if line.startswith("- exit code: ")]
        return int(lines[0].rpartition(" ")[2]) if lines else 0


def environment(home: Path) -> dict[str, str]:
    """Return an environment without the settings, the repository and the modules around us.

    PYTHONPATH would put the work tree's modules in place of those that the hook installed.
    """
    settings = home / "gitconfig"
    settings.write_text(SETTINGS)
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("GIT_", "PRE_COMMIT", "PYTHON"))
    }
    return kept | {
        "GIT_CONFIG_GLOBAL": str(settings),
        "GIT_CONFIG_NOSYSTEM": "1",
        "PRE_COMMIT_HOME": str(home / "pre-commit"),
        "PRE_COMMIT_COLOR": "never",
    }


def run(command: list[str], folder: Path, environment: dict[str, str]) -> Outcome:
    done = subprocess.run(
        command,
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        timeout=300,
    )
    return Outcome(done.returncode, done.stdout)


@dataclass(frozen=True)
class Repository:
    """A work tree and the environment in which its programs run."""

    top: Path
    environment: dict[str, str]

    def git(self, *arguments: str) -> str:
        """Run git where it must succeed and return what it printed."""
        done = run(["git", *arguments], self.top, self.environment)
        assert done.passed, done.text
        return done.text

    def commit(self, *arguments: str) -> Outcome:
        """Commit what is staged, or the paths given."""
        return self.try_git("commit", "-m", "a commit", *arguments)

    def try_git(self, *arguments: str) -> Outcome:
        return run(["git", *arguments], self.top, self.environment)

    def pre_commit(self, *arguments: str) -> Outcome:
        return run([sys.executable, "-m", "pre_commit", *arguments], self.top, self.environment)

    def jobcheck(self, *arguments: str, folder: str = ".") -> Outcome:
        """Run the jobcheck of the work tree under test."""
        here = self.environment | {"PYTHONPATH": str(PROJECT)}
        return run([sys.executable, "-m", "jobcheck", *arguments], self.top / folder, here)

    def write(self, name: str, text: str) -> None:
        path = self.top / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def edit(self, name: str, old: str, new: str) -> None:
        text = (self.top / name).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old} stands {text.count(old)} times in {name}"
        self.write(name, text.replace(old, new))

    def stage(self, name: str, old: str, new: str) -> None:
        self.edit(name, old, new)
        self.git("--literal-pathspecs", "add", "--", name)

    @property
    def commits(self) -> int:
        """How many commits the branch has, 0 before the first one."""
        counted = self.try_git("rev-list", "--count", "HEAD")
        return int(counted.text) if counted.passed else 0
