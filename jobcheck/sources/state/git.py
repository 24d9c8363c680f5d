"""States that git holds: the index and a revision."""

from __future__ import annotations

import os
import posixpath
import subprocess
import weakref
from collections.abc import Iterator
from pathlib import Path as FilePath

from jobcheck.sources.state.state import Files, State, Unreadable, matches
from jobcheck.text import LARGEST_FILE


class GitRefused(Exception):
    """Git could not answer; the message is its own last line."""


def git(folder: FilePath, *arguments: str) -> bytes:
    """Run git in a folder and return what it prints.

    Raises:
        GitRefused: git is not installed, this is not a repository, or it refused.
    """
    command = ["git", *arguments]
    try:
        run = subprocess.run(
            command, cwd=folder, capture_output=True, check=False, env=_environment()
        )
    except OSError as error:
        raise GitRefused(f"git cannot be run: {error.strerror}") from None
    if run.returncode:
        lines = run.stderr.decode(errors="replace").strip().splitlines()
        raise GitRefused(lines[-1] if lines else f"git ended with {run.returncode}")
    return run.stdout


_PATHSPECS = ("GIT_LITERAL_PATHSPECS", "GIT_GLOB_PATHSPECS", "GIT_NOGLOB_PATHSPECS")
_CHANGING = (*_PATHSPECS, "GIT_ICASE_PATHSPECS", "GIT_EXTERNAL_DIFF", "GIT_DIFF_OPTS")
"""Variables of a calling git that would change our git's answers (git(1), ENVIRONMENT)."""


def _environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name not in _CHANGING}


def top_folder(folder: FilePath) -> FilePath:
    """Return the top folder of the repository that holds a folder.

    In a hook in a further work tree, GIT_DIR gives the repository, and git takes the current
    folder for the top, so it must run there.
    """
    start = FilePath.cwd() if "GIT_DIR" in os.environ else folder
    return FilePath(os.fsdecode(git(start, "rev-parse", "--show-toplevel").rstrip(b"\n")))


def author_and_commit(folder: FilePath) -> tuple[str | None, str | None]:
    """Return who works in a repository and the commit that is checked out, as git knows them."""

    def answer(*arguments: str) -> str | None:
        try:
            return git(folder, *arguments).decode(errors="replace").strip() or None
        except GitRefused:
            return None

    return answer("config", "user.name"), answer("rev-parse", "--verify", "--quiet", "HEAD")


def is_committing() -> bool:
    """Return whether git runs us as a hook of a commit: it then names the index."""
    return "GIT_INDEX_FILE" in os.environ


def staged_changes(top: FilePath) -> dict[str, str]:
    """Return the index's changes against the last commit: path -> git's letter, D if deleted."""
    options = ("--name-status", "--no-renames", "--no-ext-diff", "--no-relative", "-z")
    listed = git(top, "diff", "--cached", f"-O{os.devnull}", *options)  # no order file of the user
    words = [os.fsdecode(word) for word in listed.split(b"\0") if word]
    return dict(zip(words[1::2], words[::2], strict=True))


def known_paths(top: FilePath, name: str) -> list[str]:
    """Return the paths of all files called `name` in the index."""
    listed = git(top, "ls-files", "-z", "--", f":(glob)**/{name}")
    return [os.fsdecode(path) for path in listed.split(b"\0") if path]


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
        try:
            asked.write(blob.encode() + b"\n")
            asked.flush()
        except BrokenPipeError:
            raise Unreadable("cannot be read: git has ended") from None
        words = answer.readline().split()
        if len(words) != 3:
            raise Unreadable("cannot be read from git")
        size = int(words[2])
        data = answer.read(min(size, LARGEST_FILE))
        for skipped in range(len(data), size, LARGEST_FILE):
            answer.read(min(size - skipped, LARGEST_FILE))
        answer.read(1)
        if size > LARGEST_FILE:
            raise Unreadable(f"is larger than {LARGEST_FILE // 1024 // 1024} MiB")
        return data


def _end(process: subprocess.Popen[bytes]) -> None:
    for stream in (process.stdin, process.stdout):
        if stream:
            stream.close()
    process.wait()


_LINK, _REPOSITORY, _UNMERGED = "120000", "160000", "unmerged"
_REFUSED = {
    _LINK: "is a link to no file of the shop",
    _REPOSITORY: "is another repository",
    _UNMERGED: "is not merged yet",
}
Entry = tuple[str, str]
"""Mode and blob of a file in git."""


class GitFiles(Files):
    """Files below one folder of the index or of a revision."""

    def __init__(self, top: FilePath, entries: dict[str, Entry]) -> None:
        """Take name -> entry; links inside the folder are followed."""
        self._top = top
        self._entries = entries
        self._blobs: _Blobs | None = None
        self._read: dict[str, bytes] = {}
        for link in [name for name, (mode, _) in entries.items() if mode == _LINK]:
            self._follow(link)

    def _follow(self, link: str) -> None:
        """Enter the file or the files that a link leads to under its own name."""
        leads, entries = self._end_of(link), self._entries
        if leads in entries:
            entries[link] = entries[leads]
            return
        below = [name for name in entries if name.startswith(f"{leads}/")]
        entries |= {link + name.removeprefix(leads): entries[name] for name in below}

    def _end_of(self, link: str) -> str:
        """Return the name that a chain of links leads to."""
        name, seen = link, set[str]()
        while self._entries.get(name, ("", ""))[0] == _LINK and name not in seen:
            seen.add(name)
            target = os.fsdecode(self._bytes(self._entries[name][1]))
            name = posixpath.normpath(posixpath.join(posixpath.dirname(name), target))
        return name

    def _bytes(self, blob: str) -> bytes:
        self._blobs = self._blobs or _Blobs(self._top)
        return self._blobs.read(blob)

    def __getitem__(self, name: str) -> bytes:
        """Return the bytes of a file as git holds them."""
        if name not in self._read:
            mode, blob = self._entries[name]
            if mode in _REFUSED:
                raise Unreadable(_REFUSED[mode])
            self._read[name] = self._bytes(blob)
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names."""
        return iter(self._entries)

    def names(self, pattern: str) -> list[str]:
        """Return the names that match."""
        return sorted(name for name in self._entries if matches(name, pattern))


def _state(label: str, top: FilePath, folder: str, entries: dict[str, Entry]) -> State:
    name = FilePath(folder).name if folder else top.resolve().name
    return State(label, GitFiles(top, entries), name)


def _records(listed: bytes, folder: str) -> Iterator[tuple[list[str], str]]:
    """Yield the words and the name, below a folder, of records `MODE … TAB PATH`."""
    prefix = f"{folder}/" if folder else ""
    for record in filter(None, listed.split(b"\0")):
        about, _, path = record.partition(b"\t")
        yield about.decode("ascii").split(), os.fsdecode(path).removeprefix(prefix)


def staged_state(top: FilePath, folder: str) -> State:
    """Return the index's state of one folder (relative to the top, empty for the top itself)."""
    listed = git(top, "--literal-pathspecs", "ls-files", "-s", "-z", "--", folder or ".")
    entries = {
        name: (mode if stage == "0" else _UNMERGED, blob)
        for (mode, blob, stage), name in _records(listed, folder)
    }
    for name in _announced(top, folder, entries):
        del entries[name]
    return _state("staged", top, folder, entries)


_EMPTY = {  # the blob without bytes, by SHA-1 and by SHA-256
    "e69de29bb2d1d6434b8b29ae775ad8c2e48c5391",
    "473a0f4c3be8a93681a267e3b1e9a7dcda1185436fe141f7749120a303721813",
}


def _announced(top: FilePath, folder: str, entries: dict[str, Entry]) -> set[str]:
    """Return the files only announced by `git add -N`: listed as empty, and not committed."""
    empty = {name for name, (_, blob) in entries.items() if blob in _EMPTY}
    if not empty:
        return empty
    arguments = ("diff-files", "--name-only", "--diff-filter=A", "-z", "--", folder or ".")
    listed = git(top, "--literal-pathspecs", *arguments)
    prefix = f"{folder}/" if folder else ""
    return empty & {os.fsdecode(p).removeprefix(prefix) for p in listed.split(b"\0") if p}


def revision_state(top: FilePath, folder: str, revision: str) -> State:
    """Return a revision's state of one folder.

    Raises:
        GitRefused: the revision does not exist.
    """
    if revision.startswith("-"):
        raise GitRefused(f"{revision} is not a revision")
    asked = ("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
    try:
        commit = git(top, *asked)
    except GitRefused:
        raise GitRefused("the revision does not exist") from None
    tree = ("ls-tree", "-r", "-z", "--full-tree", commit.decode().strip(), "--", folder or ".")
    listed = git(top, "--literal-pathspecs", *tree)
    entries = {name: (mode, blob) for (mode, _, blob), name in _records(listed, folder)}
    return _state(f"git:{revision}", top, folder, entries)
