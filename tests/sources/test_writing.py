"""Files are replaced as wholes, or not at all."""

import errno
import os
import stat
import subprocess
import sys

import pytest

from jobcheck.sources.state import writing
from jobcheck.sources.state.locking import locked
from jobcheck.sources.state.writing import UNFINISHED, Rewrite, WriteRefused, write_files


@pytest.fixture
def shop(tmp_path):
    (tmp_path / "a.yaml").write_bytes(b"old a")
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "b.yaml").write_bytes(b"old b")
    return tmp_path


BOTH = {"a.yaml": Rewrite(b"old a", b"new a"), "jobs/b.yaml": Rewrite(b"old b", b"new b")}


def held(shop):
    return (shop / "a.yaml").read_bytes(), (shop / "jobs" / "b.yaml").read_bytes()


def unfinished(shop):
    return list(shop.rglob(f"{UNFINISHED}*"))


def test_files_are_replaced_and_nothing_else_is_left(shop):
    assert write_files(shop, BOTH) == ("a.yaml", "jobs/b.yaml")
    assert held(shop) == (b"new a", b"new b")
    assert unfinished(shop) == []


def test_repeating_completes_what_was_interrupted(shop):
    (shop / "a.yaml").write_bytes(b"new a")
    assert write_files(shop, BOTH) == ("jobs/b.yaml",)
    assert held(shop) == (b"new a", b"new b")
    assert write_files(shop, BOTH) == ()


def test_a_file_that_another_changed_is_left_alone_and_so_are_the_others(shop):
    (shop / "jobs" / "b.yaml").write_bytes(b"theirs")
    with pytest.raises(WriteRefused, match=r"jobs/b.yaml was not written: it was changed after"):
        write_files(shop, BOTH)
    assert held(shop) == (b"old a", b"theirs")


def test_a_file_that_is_gone_is_not_made_anew(shop):
    (shop / "a.yaml").unlink()
    with pytest.raises(WriteRefused, match="changed after it was read"):
        write_files(shop, BOTH)


def test_a_new_file_gets_its_folders(shop):
    write_files(shop, {"jobs/x/y/job.yaml": Rewrite(None, b"job")})
    assert (shop / "jobs/x/y/job.yaml").read_bytes() == b"job"


def test_a_new_file_never_replaces_one_that_stands(shop):
    with pytest.raises(WriteRefused, match="changed after it was read"):
        write_files(shop, {"a.yaml": Rewrite(None, b"job")})
    assert held(shop)[0] == b"old a"


@pytest.mark.parametrize("mode", [0o600, 0o644, 0o664, 0o755])
def test_the_mode_is_kept(shop, mode):
    (shop / "a.yaml").chmod(mode)
    write_files(shop, BOTH)
    assert stat.S_IMODE((shop / "a.yaml").stat().st_mode) == mode


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can")
def test_the_owner_is_kept(shop):
    os.chown(shop / "a.yaml", 1234, 2345)
    write_files(shop, BOTH)
    info = (shop / "a.yaml").stat()
    assert (info.st_uid, info.st_gid) == (1234, 2345)


def test_a_link_inside_the_shop_is_followed(shop):
    (shop / "link.yaml").symlink_to("jobs/b.yaml")
    write_files(shop, {"link.yaml": Rewrite(b"old b", b"new b")})
    assert (shop / "link.yaml").is_symlink()
    assert held(shop)[1] == b"new b"


@pytest.mark.parametrize("name", ["link.yaml", "out/c.yaml", "../c.yaml"])
def test_nothing_outside_the_shop_is_written(shop, tmp_path_factory, name):
    outside = tmp_path_factory.mktemp("outside")
    (outside / "c.yaml").write_bytes(b"old c")
    (shop / "link.yaml").symlink_to(outside / "c.yaml")
    (shop / "out").symlink_to(outside)
    with pytest.raises(WriteRefused, match="outside the shop's folder"):
        write_files(shop, {name: Rewrite(b"old c", b"new c")})
    assert (outside / "c.yaml").read_bytes() == b"old c"


def test_links_in_a_circle_are_one_clear_refusal(shop):
    (shop / "c.yaml").symlink_to("d.yaml")
    (shop / "d.yaml").symlink_to("c.yaml")
    with pytest.raises(WriteRefused, match=r"c.yaml was not written"):
        write_files(shop, {"c.yaml": Rewrite(b"", b"new")})


def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(shop):
    (shop / "a.yaml").unlink()
    os.mkfifo(shop / "a.yaml")
    with pytest.raises(WriteRefused, match=r"a.yaml was not written: it is not an ordinary file"):
        write_files(shop, BOTH)


def test_what_a_killed_run_left_is_removed_by_the_next(shop):
    (shop / f"{UNFINISHED}1-0").write_bytes(b"half")
    (shop / "jobs" / f"{UNFINISHED}1-1").write_bytes(b"half")
    write_files(shop, BOTH)
    assert unfinished(shop) == []


@pytest.mark.parametrize("failing", ["open", "write", "fsync", "replace"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_what_the_system_refuses_leaves_the_old_files(shop, monkeypatch, failing, number):
    real = getattr(os, failing)

    def fail(*given, **named):
        if failing == "open" and not given[1] & os.O_CREAT:
            return real(*given, **named)
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, failing, fail)
    why = "the disk is full" if number == errno.ENOSPC else "input/output error"
    with pytest.raises(WriteRefused, match=rf"a.yaml was not written: {why}\."):
        write_files(shop, BOTH)
    assert held(shop) == (b"old a", b"old b")
    assert unfinished(shop) == []


def test_a_failure_half_way_says_what_was_written(shop, monkeypatch):
    real = os.replace

    def fail(source, target):
        if target.name == "b.yaml":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        real(source, target)

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(
        WriteRefused, match=r"a.yaml: written before it. Repeat the command"
    ) as info:
        write_files(shop, BOTH)
    assert info.value.written == ("a.yaml",)
    monkeypatch.undo()
    write_files(shop, BOTH)
    assert held(shop) == (b"new a", b"new b")


def test_a_short_write_is_continued(shop, monkeypatch):
    real = os.write
    monkeypatch.setattr(os, "write", lambda file, data: real(file, data[:2]))
    write_files(shop, BOTH)
    assert held(shop) == (b"new a", b"new b")


def test_a_run_waits_for_another_and_tells_who_never_ends(shop, monkeypatch):
    monkeypatch.setattr("jobcheck.sources.state.locking.PATIENCE_S", 0.05)
    with locked(shop) as alone:
        assert alone
        with pytest.raises(WriteRefused, match="another run is writing in this shop"):
            write_files(shop, BOTH)
    write_files(shop, BOTH)


def test_a_killed_run_leaves_no_lock(shop):
    program = (
        "import os, pathlib, sys\n"
        "from jobcheck.sources.state.locking import locked\n"
        "with locked(pathlib.Path(sys.argv[1])):\n"
        "    os.kill(os.getpid(), 9)\n"
    )
    run = subprocess.run([sys.executable, "-c", program, str(shop)], check=False)
    assert run.returncode == -9
    write_files(shop, BOTH)
    assert held(shop) == (b"new a", b"new b")


def test_without_locks_files_are_written_all_the_same(shop, monkeypatch):
    monkeypatch.setattr("jobcheck.sources.state.locking.fcntl", None)
    (shop / f"{UNFINISHED}1-0").write_bytes(b"may be another's")
    write_files(shop, BOTH)
    assert held(shop) == (b"new a", b"new b")
    assert len(unfinished(shop)) == 1


def test_git_sees_nothing_but_the_files(shop):
    subprocess.run(["git", "init", "-q", str(shop)], check=True)
    write_files(shop, BOTH)
    seen = subprocess.run(
        ["git", "status", "--porcelain", "-uall"], cwd=shop, check=True, capture_output=True
    )
    assert seen.stdout.split() == [b"??", b"a.yaml", b"??", b"jobs/b.yaml"]


def test_a_file_that_changes_while_it_is_prepared_is_not_replaced(tmp_path, monkeypatch):
    """The window is that of one rename: another program's bytes are never lost."""
    (tmp_path / "a.yaml").write_bytes(b"old")
    (tmp_path / "b.yaml").write_bytes(b"old")
    real = writing.settle

    def settle(folder, name, done=()):
        (tmp_path / "b.yaml").write_bytes(b"another program's")
        real(folder, name, done)

    monkeypatch.setattr(writing, "settle", settle)
    rewrites = {name: writing.Rewrite(b"old", b"new") for name in ("a.yaml", "b.yaml")}
    with pytest.raises(writing.WriteRefused, match=r"b.yaml was not written.*a.yaml") as refused:
        writing.write_files(tmp_path, rewrites)
    assert refused.value.written == ("a.yaml",)
    assert (tmp_path / "b.yaml").read_bytes() == b"another program's"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.yaml", "b.yaml"]


def test_a_file_with_several_hard_links_is_refused(tmp_path):
    (tmp_path / "a.yaml").write_bytes(b"old")
    os.link(tmp_path / "a.yaml", tmp_path / "other.yaml")
    with pytest.raises(writing.WriteRefused, match="hard links"):
        writing.write_files(tmp_path, {"a.yaml": writing.Rewrite(b"old", b"new")})
    assert (tmp_path / "other.yaml").read_bytes() == b"old"


@pytest.mark.skipif(not hasattr(os, "setxattr"), reason="no extended attributes here")
def test_extended_attributes_are_kept(tmp_path):
    file = tmp_path / "a.yaml"
    file.write_bytes(b"old")
    try:
        os.setxattr(file, "user.bench", b"left")
    except OSError:
        pytest.skip("the disk has no extended attributes")
    writing.write_files(tmp_path, {"a.yaml": writing.Rewrite(b"old", b"new")})
    assert file.read_bytes() == b"new"
    assert os.getxattr(file, "user.bench") == b"left"


def test_what_cannot_be_kept_is_refused(tmp_path, monkeypatch):
    (tmp_path / "a.yaml").write_bytes(b"old")

    def refuse(*_arguments):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "fchmod", refuse)
    with pytest.raises(writing.WriteRefused, match="owner, mode or attributes"):
        writing.write_files(tmp_path, {"a.yaml": writing.Rewrite(b"old", b"new")})
    assert (tmp_path / "a.yaml").read_bytes() == b"old"
