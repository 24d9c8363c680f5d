"""What is said of records that were withdrawn or removed."""

import io
import shutil

import pytest

from jobcheck.cli.main import main
from tests.golden.play import EXAMPLES


@pytest.fixture
def say(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger", shop)

    def run(*words):
        out = io.StringIO()
        code = main(["--as-of", "2026-11-26", "--shop", str(shop), *words], out, out)
        return code, " ".join(out.getvalue().split())

    return run


@pytest.mark.parametrize("write", [(), ("--write",)])
def test_a_restore_from_a_withdrawn_record_says_why_it_is_withdrawn(say, write):
    assert say("withdraw", "2", "--because", "the belt slipped")[0] == 0
    code, said = say("restore", "cameras.up", "--from", "good:2", *write)
    assert code == 0
    assert "Record 2, new-belt was withdrawn on 2026-11-26: the belt slipped" in said
    assert "withdrawn" not in say("restore", "cameras.up", "--from", "good:1")[1]


def test_history_names_removed_records(say, tmp_path):
    assert "Removed" not in say("history")[1]
    shutil.rmtree(tmp_path / "shop" / "known-good/2-new-belt")
    assert "Removed, so not compared: record 2." in say("history")[1]
    (tmp_path / "shop" / "known-good/3-after-lens-swap").rename(
        tmp_path / "shop" / "known-good/999999999-x"
    )
    assert "Removed, so not compared: records 2 to 999999998." in say("history")[1]
