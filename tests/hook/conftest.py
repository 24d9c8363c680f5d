"""Repositories with a shop and the hook in them: the real git, the real pre-commit.

pre-commit installs the hook as it would from anywhere: from a clone of the project, at its last
commit. What is not committed is not what a user gets, and not what runs here; the bare hook of
`bare` runs the work tree.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest
from filelock import FileLock

from tests.hook.repository import PROJECT, Repository, environment, run
from tests.support.edited import measured_starter

BARE_HOOK = """\
#!/bin/sh
PYTHONPATH='{project}' exec '{python}' -m jobcheck lint --staged {arguments}
"""


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Repository:
    """A repository whose hook is installed, with one commit: a shop in `shop`."""
    home = tmp_path_factory.getbasetemp()
    if home.name.startswith("popen-"):  # one of several workers: one of them installs
        home = home.parent
    home /= "hook"
    with FileLock(f"{home}.lock"):
        if not (home / "done").exists():
            home.mkdir()
            _install(Repository(home / "template", environment(home)), home / "jobcheck")
            (home / "done").touch()
    return Repository(home / "template", environment(home))


def _install(repository: Repository, clone: Path) -> None:
    _succeed(["git", "clone", "--quiet", "--no-hardlinks", str(PROJECT), str(clone)], clone.parent)
    repository.top.mkdir()
    repository.git("init", "--quiet")
    measured_starter(repository.top / "shop")
    revision = run(["git", "rev-parse", "HEAD"], clone, repository.environment).text.strip()
    repository.write(
        ".pre-commit-config.yaml",
        f"repos:\n  - repo: {clone.as_uri()}\n    rev: {revision}\n    hooks: [{{id: jobcheck}}]\n",
    )
    types = [f"--hook-type={name}" for name in ("pre-commit", "pre-merge-commit")]
    installed = repository.pre_commit("install", "--install-hooks", *types)
    assert installed.passed, installed.text
    repository.git("add", ".")
    repository.git("commit", "--quiet", "--no-verify", "-m", "the shop as it works")


def _succeed(command: list[str], folder: Path) -> None:
    done = run(command, folder, dict(os.environ))
    assert done.passed, done.text


@pytest.fixture
def repository(template: Repository, tmp_path: Path) -> Repository:
    """A copy of the template, in a folder whose name has a space."""
    shutil.copytree(template.top, tmp_path / "my bench", symlinks=True)
    return Repository(tmp_path / "my bench", template.environment)


@pytest.fixture
def bare(repository: Repository) -> Repository:
    """A repository whose hook is jobcheck alone: nothing puts unstaged changes away for it."""
    bare_hook(repository)
    return repository


def bare_hook(repository: Repository, arguments: str = "") -> None:
    """Put a hook in place that runs the work tree's jobcheck and nothing else."""
    text = BARE_HOOK.format(project=PROJECT, python=sys.executable, arguments=arguments)
    for name in ("pre-commit", "pre-merge-commit"):
        path = repository.top / ".git" / "hooks" / name
        path.write_text(text)
        path.chmod(0o755)
