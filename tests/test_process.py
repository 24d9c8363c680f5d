"""How the process of the console command ends, whatever becomes of its output."""

import os
import shlex
import shutil
import subprocess
import sys

import pytest

from tests.golden.play import EXAMPLES

SHOP = EXAMPLES / "soil-logger"
LINT = shlex.join(
    [sys.executable, "-m", "jobcheck", "lint", "--shop", str(EXAMPLES / "soil-logger-drifted")]
)


def shell(line: str) -> tuple[int, str, str]:
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def test_findings_are_printed_whole_and_weigh_in_the_exit_code():
    code, out, err = shell(LINT)
    assert code == 1
    assert out.endswith("\n")
    assert "camera up lost 4 settings" in out
    assert err == ""


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_a_stream_that_was_closed_takes_nothing_and_changes_nothing(closed):
    code, _, err = shell(f"{LINT} {closed}")
    assert (code, err) == (1, "")


def test_a_reader_that_goes_away_is_no_fault():
    code, out, err = shell(f"({LINT}; echo $? >&2) | head -c 0")
    assert (code, out) == (0, "")
    assert err.strip() in ("0", "1")  # as the reader went before or after it was written


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")
def test_output_that_cannot_be_written_is_told():
    code, _, err = shell(f"{LINT} > /dev/full")
    assert code == 2
    assert err.startswith("The output cannot be written: ")


def test_a_deleted_folder_and_a_python_without_documentation_have_their_words(tmp_path):
    gone = tmp_path / "gone"
    gone.mkdir()
    code = "import os, sys; os.rmdir(os.getcwd()); os.execv(sys.executable, sys.argv[1:])"
    run = [sys.executable, "-c", code, sys.executable, "-m", "jobcheck"]
    done = subprocess.run(run, cwd=gone, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert "The current folder was deleted" in done.stderr
    bare = [sys.executable, "-OO", "-m", "jobcheck", "explain", "height-missing"]
    done = subprocess.run(bare, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "Python runs without documentation" in done.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="the limit is Linux's")
@pytest.mark.parametrize("words", ["lint", "diff", "restore cameras.up --write"])
def test_too_little_memory_is_told_as_such(tmp_path, words):
    shop = tmp_path / "shop"
    shutil.copytree(SHOP, shop)
    with (shop / "parts.yaml").open("a") as parts:
        parts.writelines(f"  part-{number}: {{outline: sot-23}}\n" for number in range(200_000))
    run = f"{shlex.quote(sys.executable)} -m jobcheck {words} --shop {shlex.quote(str(shop))}"
    code, out, err = shell(f"ulimit -v 160000; {run}")
    assert (code, out) == (2, "")
    assert err == "There is not enough memory. Each file is as it was, or whole as asked.\n"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
@pytest.mark.parametrize(
    "words",
    [
        ["import", "PIPE", "--job", "soil-logger"],
        ["find", "PIPE", "1", "--kind", "xml"],
        ["seen", "up", "PIPE"],
    ],
)
def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(tmp_path, words):
    os.mkfifo(tmp_path / "pipe")
    call = [str(tmp_path / "pipe") if word == "PIPE" else word for word in words]
    run = [sys.executable, "-m", "jobcheck", *call, "--shop", str(SHOP)]
    done = subprocess.run(run, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2
    assert "is not an ordinary file" in " ".join(done.stderr.split())


@pytest.mark.parametrize("words", [["diff"], ["lint"], ["diff", "--from"], ["lint", "--shop"]])
def test_a_name_that_no_file_can_have_is_no_fault_of_ours(words):
    run = [sys.executable, "-m", "jobcheck", *words, "x" * 5000]
    done = subprocess.run(run, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "This is a fault in jobcheck" not in done.stderr
