"""What `jobcheck new` says."""

from __future__ import annotations

from jobcheck.commands.calls import Call, from_here
from jobcheck.commands.new import NewShop
from jobcheck.reports.wording import amount

HOOK = """\
repos:
  - repo: https://example.org/jobcheck     # where you got jobcheck from
    rev: v0.1.0
    hooks:
      - id: jobcheck"""


def new_text(made: NewShop, call: Call) -> list[str]:
    """Report the files added, and the lines that add the hook."""
    folder = from_here(made.folder)
    lines = [f"{folder}: {amount(len(made.added), 'file')} added."]
    lines += [f"  {name}" for name in made.added]
    if made.kept:
        lines.append(f"Left as they are: {', '.join(made.kept)}.")
    lines += [
        "",
        "The numbers in them are invented: replace them by what you measured.",
        "",
        "To check every commit, add to .pre-commit-config.yaml, then `pre-commit install`:",
        "",
        *HOOK.splitlines(),
        "",
    ]
    where = "" if folder == "." else f" {folder}"
    return [*lines, f"Next: {call.program} lint{where}"]
