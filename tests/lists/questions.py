"""What import asks of each list in `cases`, as a table: `python -m tests.lists.questions`.

It writes `tests/lists/README.md`.
"""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import NamedTuple

from jobcheck.commands.import_reading import Request, read_files
from jobcheck.findings import CallRefused
from tests.lists.golden import CASES, all_cases

PAGE = Path(__file__).parent / "README.md"


class Asked(NamedTuple):
    """One list: its name, how it is read, the questions, the answers proposed or the refusal."""

    name: str
    shape: str
    questions: int
    answers: str


def asked_of(file: Path) -> Asked:
    """Import a list without any option."""
    try:
        read, _, open_ = read_files(Request(file, "job"))
    except CallRefused as refused:
        says = str(refused).replace(f"{CASES.as_posix()}/", "").splitlines()[0]
        return Asked(file.name, "refused", 0, says)
    words = open_.said.asked.arguments[4:]
    return Asked(file.name, read.format.shape, len(open_.asked), shlex.join(words))


def page() -> str:
    """The table of all lists, with the totals."""
    rows = [asked_of(case.file) for case in all_cases()]
    read = [row for row in rows if row.shape != "refused"]
    counts = {
        n: sum(row.questions == n for row in read) for n in sorted({r.questions for r in read})
    }
    total = ", ".join(
        f"{many} with {n or 'no'} question{'s' * (n != 1)}" for n, many in counts.items()
    )
    lines = [
        "# Lists",
        "",
        "Each list of `cases` is imported without an option. All that is open is asked in one "
        "answer,",
        "with one command. Made by `python -m tests.lists.questions`.",
        "",
        f"{len(rows)} lists: {total}, {len(rows) - len(read)} refused.",
        "",
        "| list | read as | questions | proposed answers, or why it is refused |",
        "| --- | --- | --- | --- |",
    ]
    for row in rows:
        text = row.answers.replace("|", "\\|")
        text = f"`{text}`" if text and row.shape != "refused" else text
        lines.append(f"| {row.name} | {row.shape} | {row.questions or ''} | {text} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), "utf-8")
