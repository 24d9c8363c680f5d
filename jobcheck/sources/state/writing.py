"""Files replaced as wholes: a kill, a full disk or another run leaves the old or the new one."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.sources.state.locking import locked
from jobcheck.sources.state.state import Unreadable, bytes_of

UNFINISHED = ".jobcheck-unfinished-"
"""How the names of files that are being written begin."""

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk space allowed to you is used up",
    errno.EROFS: "its disk is read-only",
    errno.EACCES: "you are not allowed to write there",
    errno.EPERM: "you are not allowed to write there",
    errno.ENOENT: "its folder is gone",
}


_CHANGED = "it was changed after it was read; check it, and repeat the command"
_LINKED = "it has other names (hard links), and a new file would lose them"
_NOT_KEPT = "its owner, mode or attributes cannot be given to a new file"


class WriteRefused(Exception):
    """A file could not be written, or has changed since it was read; the old one is intact.

    `written` are the files replaced before it; repeating the command replaces the rest.
    """

    def __init__(self, name: str, why: str, written: Sequence[str] = ()) -> None:
        """Take the file's name and a clause that says why."""
        done = f" {', '.join(written)}: written before it. Repeat the command." if written else ""
        super().__init__(f"{self._what(name)}: {why}.{done}")
        self.name = name
        self.why = why
        self.written = tuple(written)

    def _what(self, name: str) -> str:
        return f"{name} was not written"


class Unsettled(WriteRefused):
    """A file was written, whole, but the disk did not confirm that its name is safe."""

    def _what(self, name: str) -> str:
        return f"{name} was written, but the disk does not confirm it"


class Rewrite(NamedTuple):
    """The contents of a file when it was read (None: it did not exist) and its new contents.

    `check` looks at the file once more before it is replaced, and raises WriteRefused.
    """

    old: bytes | None
    new: bytes
    check: Callable[[FilePath], None] | None = None


class _Due(NamedTuple):
    """A file still to be written: its name, its target after links, its temporary file."""

    name: str
    target: FilePath
    rewrite: Rewrite
    number: int

    @property
    def unfinished(self) -> FilePath:
        return self.target.with_name(f"{UNFINISHED}{os.getpid()}-{self.number}")


def write_files(root: FilePath, files: Mapping[str, Rewrite]) -> tuple[str, ...]:
    """Replace files of a shop (names relative to its root) in the order given.

    Returns the names of the written files: a file that already has its new contents is left
    alone, so that repeating an interrupted run completes it. Everything is written beside the
    files before the first is replaced: a full disk is noticed while all of them are old.

    Raises:
        WriteRefused: a file has changed since it was read, is outside the shop, or cannot be
        written.
    """
    written: list[str] = []
    with holding(root) as alone, ExitStack() as left_behind:
        found = (_due(root, name, files[name], number) for number, name in enumerate(files))
        due = list(filter(None, found))
        if alone:
            remove_unfinished({entry.target.parent for entry in due})
        for entry in due:
            left_behind.callback(_remove, entry.unfinished)
            _prepare(root, entry)
        for entry in due:
            with refusing(entry.name, written):
                _require_unchanged(entry, written)
                os.replace(entry.unfinished, entry.target)
            settle(entry.target.parent, entry.name, written)
            written.append(entry.name)
    return tuple(written)


OUR_PAGE = b"Made by jobcheck"
"""A page or picture has this near its beginning: only those are replaced without being named."""


def write_page(path: FilePath, text: str) -> None:
    """Write a page or picture anywhere, as a whole; one of an earlier call is replaced.

    Raises:
        WriteRefused: another file has that name, or it cannot be written.
    """
    name, target, new = str(path), FilePath(os.path.realpath(path)), text.encode()
    if not target.parent.is_dir():
        raise WriteRefused(name, f"the folder {path.parent} does not exist")
    old = _present(name, target)
    if old is not None and OUR_PAGE not in old[:_BEGINNING]:
        raise WriteRefused(name, "it exists and was not made by jobcheck; choose another name")
    entry = _Due(name, target, Rewrite(old, new), 0)
    with ExitStack() as left_behind:
        left_behind.callback(_remove, entry.unfinished)
        _prepare(target.parent, entry)
        with refusing(name):
            _require_unchanged(entry, ())
            os.replace(entry.unfinished, target)
        settle(target.parent, name)


_BEGINNING = 1000


@contextmanager
def holding(root: FilePath) -> Iterator[bool]:
    """Lock a shop while something is written; yield whether it is really locked.

    Raises:
        WriteRefused: another run has locked it, or the folder cannot be opened.
    """
    with ExitStack() as stack:
        try:
            alone = stack.enter_context(locked(root))
        except TimeoutError:
            raise WriteRefused(root.name, "another run is writing in this shop") from None
        except OSError as error:
            raise WriteRefused(root.name, reason(error)) from error
        yield alone


def _due(root: FilePath, name: str, rewrite: Rewrite, number: int) -> _Due | None:
    """Return the entry for a file, if it is still to be written.

    Raises:
        WriteRefused: it has neither the old contents nor already the new ones.
    """
    target = _target(root, name)
    present = _present(name, target)
    if present == rewrite.new:
        return None
    if present != rewrite.old:
        raise WriteRefused(name, _CHANGED)
    return _Due(name, target, rewrite, number)


def _require_unchanged(entry: _Due, written: Sequence[str]) -> None:
    """Check once more, directly before replacing a file, that it is unchanged.

    Raises:
        WriteRefused: another program wrote it meanwhile.
    """
    if entry.rewrite.check:
        entry.rewrite.check(entry.target)
    if _present(entry.name, entry.target, written) != entry.rewrite.old:
        raise WriteRefused(entry.name, _CHANGED, written)


def _present(name: str, target: FilePath, written: Sequence[str] = ()) -> bytes | None:
    """Return what a file holds now, None where there is none.

    Raises:
        WriteRefused: it cannot be read; a pipe is not waited for.
    """
    try:
        return bytes_of(target) if os.path.lexists(target) else None
    except (Unreadable, FileNotFoundError) as error:
        why = f"it {error}" if isinstance(error, Unreadable) else _CHANGED
        raise WriteRefused(name, why, written) from None


def _target(root: FilePath, name: str) -> FilePath:
    """Return the file of a name, links followed.

    Raises:
        WriteRefused: that is outside the shop.
    """
    target = FilePath(os.path.realpath(root / name))
    if not target.is_relative_to(os.path.realpath(root)):
        raise WriteRefused(name, "it is outside the shop's folder")
    return target


def _prepare(root: FilePath, entry: _Due) -> None:
    """Write the new bytes beside a file, with the mode and owner of the old one."""
    is_new = entry.rewrite.old is None
    with refusing(entry.name):
        if is_new:
            make_folders(entry.target.parent, FilePath(os.path.realpath(root)))
        else:
            os.close(os.open(entry.target, os.O_WRONLY))  # a protected file must not be replaced
            if entry.target.stat().st_nlink > 1:
                raise WriteRefused(entry.name, _LINKED)
        write_new(entry.unfinished, entry.rewrite.new, None if is_new else entry.target)


def write_new(path: FilePath, data: bytes, like: FilePath | None = None) -> None:
    """Write a file that is not there yet, down to the disk, with mode and owner of another."""
    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        if like is not None:
            _take_over(file, like)
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(file, rest) :]
        os.fsync(file)
    finally:
        os.close(file)


def _take_over(file: int, model: FilePath) -> None:
    """Give a file the owner, the mode and the extended attributes of another.

    Raises:
        WriteRefused: the system does not allow it.
    """
    own, other = os.fstat(file), model.stat()
    try:
        if hasattr(os, "fchown") and (own.st_uid, own.st_gid) != (other.st_uid, other.st_gid):
            os.fchown(file, other.st_uid, other.st_gid)
        if hasattr(os, "fchmod"):
            os.fchmod(file, stat.S_IMODE(other.st_mode))
        _take_over_attributes(file, model)
    except OSError as error:
        raise WriteRefused(model.name, f"{_NOT_KEPT}: {reason(error)}") from error


def _take_over_attributes(file: int, model: FilePath) -> None:
    if not hasattr(os, "listxattr"):
        return
    try:
        names = os.listxattr(model)
    except OSError as error:
        if error.errno == errno.ENOTSUP:
            return
        raise
    for name in names:
        value = os.getxattr(model, name)
        if name not in os.listxattr(file) or os.getxattr(file, name) != value:
            os.setxattr(file, name, value)


def make_folders(folder: FilePath, root: FilePath) -> None:
    """Make the folders from `root` down to `folder` that are not there, down to the disk."""
    if folder == root or folder.is_dir():
        return
    make_folders(folder.parent, root)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def sync_folder(folder: FilePath) -> None:
    """Bring a folder's names down to the disk, where the system has a way to do so."""
    if os.name == "nt":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def settle(folder: FilePath, name: str, written: Sequence[str] = ()) -> None:
    """Bring a new name in a folder down to the disk.

    Raises:
        Unsettled: the disk does not confirm it.
    """
    try:
        sync_folder(folder)
    except OSError as error:
        raise Unsettled(name, reason(error), written) from error


def remove_unfinished(folders: Iterable[FilePath]) -> None:
    """Remove the temporary files of killed runs; only while the shop is locked."""
    for folder in folders:
        with suppress(OSError):  # as where one cannot be removed
            for name in os.listdir(folder):
                if name.startswith(UNFINISHED):
                    _remove(folder / name)


def _remove(path: FilePath) -> None:
    # it does no harm: the next run tries again
    with suppress(OSError):
        path.unlink()


@contextmanager
def refusing(name: str, written: Sequence[str] = ()) -> Iterator[None]:
    """Word what the system refuses about a file, `written` being those that are done.

    Raises:
        WriteRefused: in the place of any OSError.
    """
    try:
        yield
    except OSError as error:
        raise WriteRefused(name, reason(error), written) from error


def reason(error: OSError) -> str:
    """Return a clause that says why the system refused."""
    return _REASONS.get(error.errno or 0) or (error.strerror or str(error)).lower()
