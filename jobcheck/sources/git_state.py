"""States that git holds: the index and a revision."""

from __future__ import annotations

import os
import subprocess
import weakref
from collections.abc import Iterator
from pathlib import Path as FilePath

from jobcheck.sources.state import Files, State, Unreadable, matches
from jobcheck.sources.text import LARGEST_FILE


class GitRefused(Exception):
    """Git could not answer; the message is its own last line."""


def git(folder: FilePath, *arguments: str) -> bytes:
    """Run git in a folder and return what it prints.

    Raises:
        GitRefused: git is not installed, this is no repository, or it refused.
    """
    try:
        run = subprocess.run(["git", *arguments], cwd=folder, capture_output=True, check=False)
    except OSError as error:
        raise GitRefused(f"git cannot be run: {error.strerror}") from None
    if run.returncode:
        lines = run.stderr.decode(errors="replace").strip().splitlines()
        raise GitRefused(lines[-1] if lines else f"git ended with {run.returncode}")
    return run.stdout


def top_folder(folder: FilePath) -> FilePath:
    """Return the top folder of the repository that holds a folder."""
    return FilePath(os.fsdecode(git(folder, "rev-parse", "--show-toplevel").rstrip(b"\n")))


def staged_paths(top: FilePath) -> list[str]:
    """Return the paths that the index changes against the last commit, deleted ones included."""
    listed = git(top, "diff", "--cached", "--name-only", "--no-renames", "-z")
    return [os.fsdecode(name) for name in listed.split(b"\0") if name]


class _Blobs:
    """One `git cat-file --batch`, kept open while a state is read."""

    def __init__(self, top: FilePath) -> None:
        self._process = subprocess.Popen(
            ["git", "cat-file", "--batch"],
            cwd=top,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        weakref.finalize(self, _end, self._process)

    def read(self, blob: str) -> bytes:
        """Return the bytes of a blob."""
        asked, answer = self._process.stdin, self._process.stdout
        assert asked is not None
        assert answer is not None
        asked.write(blob.encode() + b"\n")
        asked.flush()
        words = answer.readline().split()
        if len(words) != 3:
            raise Unreadable("is not to be had from git")
        if int(words[2]) > LARGEST_FILE:
            self._process.kill()
            raise Unreadable(f"is larger than {LARGEST_FILE // 1024 // 1024} MiB")
        data = answer.read(int(words[2]))
        answer.read(1)
        return data


def _end(process: subprocess.Popen[bytes]) -> None:
    for stream in (process.stdin, process.stdout):
        if stream:
            stream.close()
    process.wait()


class GitFiles(Files):
    """Files below one folder of the index or of a revision."""

    def __init__(self, top: FilePath, entries: dict[str, tuple[str, str]]) -> None:
        """Take name -> (mode, blob)."""
        self._top = top
        self._entries = entries
        self._blobs: _Blobs | None = None
        self._read: dict[str, bytes] = {}

    def __getitem__(self, name: str) -> bytes:
        """Return the bytes of a file as git holds them."""
        if name not in self._read:
            mode, blob = self._entries[name]
            if mode == "120000":
                raise Unreadable("is a link; git holds only where it leads")
            if mode == "160000":
                raise Unreadable("is another repository")
            self._blobs = self._blobs or _Blobs(self._top)
            self._read[name] = self._blobs.read(blob)
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names."""
        return iter(self._entries)

    def names(self, pattern: str) -> list[str]:
        """Return the names that match."""
        return sorted(name for name in self._entries if matches(name, pattern))


def _state(label: str, top: FilePath, folder: str, listed: bytes, blob_at: int) -> State:
    """Read `MODE … BLOB …TAB NAME` records; `blob_at` is the blob's place in the first part."""
    entries: dict[str, tuple[str, str]] = {}
    prefix = f"{folder}/" if folder else ""
    for record in filter(None, listed.split(b"\0")):
        about, _, path = record.partition(b"\t")
        words = about.decode("ascii").split()
        entries[os.fsdecode(path).removeprefix(prefix)] = (words[0], words[blob_at])
    name = FilePath(folder).name if folder else top.resolve().name
    return State(label, GitFiles(top, entries), name)


def staged_state(top: FilePath, folder: str) -> State:
    """Return the index's state of one folder (relative to the top, empty for the top itself)."""
    listed = git(top, "ls-files", "-s", "-z", "--", folder or ".")
    return _state("staged", top, folder, listed, 1)


def revision_state(top: FilePath, folder: str, revision: str) -> State:
    """Return a revision's state of one folder.

    Raises:
        GitRefused: there is no such revision.
    """
    if revision.startswith("-"):
        raise GitRefused(f"{revision} is no revision")
    commit = git(
        top, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}"
    )
    listed = git(
        top, "ls-tree", "-r", "-z", "--full-tree", commit.decode().strip(), "--", folder or "."
    )
    return _state(f"git:{revision}", top, folder, listed, 2)
