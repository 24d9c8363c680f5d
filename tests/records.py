"""Makes the known-good records of the examples anew: `python -m tests.records`.

Record 3 is the clean example as it stands, byte for byte; records 1 and 2 are what it was before
the new belt and before the lens was swapped. Run it after any change to examples/soil-logger.
"""

import re
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path as FilePath

from jobcheck.commands.keep import keep
from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from tests.support.workshop import workshop

EXAMPLES = FilePath(__file__).parent.parent / "examples"
CLEAN = EXAMPLES / "soil-logger"
MACHINE, PARTS, FEEDERS, JOB = (
    "placer.yaml",
    "parts.yaml",
    "feeders.yaml",
    "jobs/soil-logger/job.yaml",
)
Files = dict[str, str]


@dataclass(frozen=True)
class Kept:
    """A record to make: its label, its day, what is said of it, and the files."""

    label: str
    day: date
    note: str
    files: Files


def clean_files() -> Files:
    """Return the files of the clean example."""
    reading = read_shop(folder_state(CLEAN))
    assert not reading.faults
    return {name: held.data.decode() for name, held in reading.places.held.items()}


def changed(files: Files, edits: Mapping[str, Mapping[str, str]], until: str) -> Files:
    """Return files with texts put in the place of others, without the events from `until` on."""
    changed_files = dict(files)
    for name, pairs in edits.items():
        for old, new in pairs.items():
            assert old in changed_files[name], (name, old)
            changed_files[name] = changed_files[name].replace(old, new)
    machine = changed_files[MACHINE]
    changed_files[MACHINE] = machine[: machine.index(f"  {until}")]
    return stamped(changed_files)


def stamped(files: Files) -> Files:
    """Return files whose recognitions are stamped with the settings in force."""
    held = HeldFiles({name: text.encode() for name, text in files.items()})
    shop = read_shop(State("past", held, CLEAN.name)).shop
    assert shop is not None
    parts = files[PARTS]
    for name, recognition in shop.recognitions.items():
        stamp = tuning_fingerprint(shop.cameras[recognition.camera], recognition)
        line = rf"(  {name}: \{{[^}}]*tuned_under: )k-[0-9a-f]{{12}}"
        parts, count = re.subn(line, rf"\g<1>{stamp}", parts)
        assert count == 1, name
    return {**files, PARTS: parts}


def history() -> list[Kept]:
    """Return the three records, the oldest first."""
    now = clean_files()
    before_lens = changed(
        now,
        {
            MACHINE: {
                "2026-10-02": "2026-09-30",
                "position: {x: 236.4, y: 30.2, z: -20.1": "position: {x: 236.7, y: 30.0, z: -20.4",
                "x: 0.0182, y: 0.0182, at_z: -20.1": "x: 0.0187, y: 0.0187, at_z: -20.4",
                "field_mm: [23.3, 13.1]": "field_mm: [23.9, 13.5]",
                "      gain: 4\n": "      gain: 6\n",
            },
            PARTS: {
                "on 2026-10-02 after the lens was swapped": "on 2026-09-30 after the new belt",
                "tuned: 2026-10-02": "tuned: 2026-09-30",
            },
            FEEDERS: {"2026-10-02": "2026-09-30"},
        },
        until="2026-10-01-lens",
    )
    before_belt = changed(
        before_lens,
        {
            MACHINE: {
                "2026-09-30": "2026-08-20",
                "2026-09-29": "2026-08-19",
                "reversal: {x: 0.04, y: 0.03": "reversal: {x: 0.07, y: 0.03",
                "x: -31.2, y: 4.0": "x: -31.1, y: 4.0",
                "xy_mm_s2: 2000 ": "xy_mm_s2: 1500 ",
                "x: 236.7, y: 30.0": "x: 236.6, y: 30.0",
            },
            PARTS: {
                "on 2026-09-30 after the new belt": "on 2026-08-20",
                "tuned: 2026-09-30": "tuned: 2026-08-20",
            },
            FEEDERS: {"2026-09-30": "2026-08-20"},
            JOB: {"run: {panels: 12": "run: {panels: 2"},
        },
        until="2026-09-28-belt",
    )
    return [
        Kept(
            "first-panel",
            date(2026, 8, 20),
            "two panels, all 1,008 placements looked at",
            before_belt,
        ),
        Kept(
            "new-belt",
            date(2026, 9, 30),
            "new belt on x and y, all marks measured anew",
            before_lens,
        ),
        Kept(
            "after-lens-swap",
            date(2026, 10, 2),
            "lens of camera up swapped, seven recognitions retuned",
            now,
        ),
    ]


def main() -> None:
    """Make the records in a temporary copy and put them into the examples."""
    with workshop(), tempfile.TemporaryDirectory() as folder:
        shop = FilePath(folder) / CLEAN.name
        for kept in history():
            for name, text in kept.files.items():
                (shop / name).parent.mkdir(parents=True, exist_ok=True)
                (shop / name).write_bytes(text.encode())
            done = keep(shop, kept.label, kept.day, note=kept.note, on_purpose=())
            assert done.record, [finding.message for finding in done.errors]
        for example in (CLEAN, EXAMPLES / "soil-logger-drifted"):
            shutil.rmtree(example / "known-good", ignore_errors=True)
            shutil.copytree(shop / "known-good", example / "known-good")


if __name__ == "__main__":
    main()
