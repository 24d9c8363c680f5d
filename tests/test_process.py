"""How the process of the console command ends, whatever becomes of its output."""

import os
import shlex
import subprocess
import sys

import pytest

from tests.golden.play import EXAMPLES

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
