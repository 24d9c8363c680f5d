"""What stops a check is named: records that were removed, findings that are accepted."""

import io
import shutil

from jobcheck.cli.main import main
from jobcheck.known_good.store import gaps
from tests.golden.play import EXAMPLES


def test_gaps_are_ranges_of_numbers():
    assert gaps([1, 2, 3]) == []
    assert gaps([2, 5]) == [(1, 1), (3, 4)]
    assert gaps([]) == []


def test_lint_diff_and_history_name_a_removed_record(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger-drifted", shop)
    removed = next((shop / "known-good").glob("2-*"))
    shutil.rmtree(removed)
    for command in ("lint", "diff", "history"):
        out = io.StringIO()
        main([command, "--shop", str(shop), "--as-of", "2026-11-25"], out, out)
        assert "Removed, so not compared: record 2." in out.getvalue(), command


def test_keep_and_history_name_accepted_findings(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger", shop)
    machine = shop / "placer.yaml"
    machine.write_text(machine.read_text().replace("{date: 2026-09-30,", "{date: 2025-01-30,", 1))

    def say(*words):
        out = io.StringIO()
        main([*words, "--shop", str(shop), "--as-of", "2026-11-25"], out, out)
        return " ".join(out.getvalue().split())

    say("accept", "--all", "--until", "2027-02-01", "--because", "next month", "--write")
    for said in (say("keep", "--label", "lived with"), say("history")):
        assert "camera-calibration-outdated" in said
        assert "accepted until 2027-02-01" in said
