"""What `jobcheck new` says."""

from __future__ import annotations

import shlex

from jobcheck.commands.new import NewShop
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, paragraph
from jobcheck.sources.bridge.starting import BRIDGE_FILE, StartedBridge

HOOK = """\
repos:
  - repo: https://example.org/jobcheck     # where you got jobcheck from
    rev: v0.1.0
    hooks:
      - id: jobcheck"""


def new_text(made: NewShop, call: Call) -> list[str]:
    """Report the files added, and the lines that add the hook."""
    folder = call.path(made.folder)
    lines = [f"{folder}: {amount(len(made.added), 'file')} added."]
    lines += [f"  {name}" for name in made.added]
    if made.kept:
        lines.append(f"Left as they are: {', '.join(made.kept)}.")
    lines += [
        "",
        "The numbers in them are invented: replace them by what you measured.",
        "",
        "To check every commit, add this to .pre-commit-config.yaml, then run",
        "`pre-commit install`:",
        "",
        *HOOK.splitlines(),
        "",
    ]
    where = "" if folder == "." else f" {shlex.quote(folder)}"
    return [*lines, f"Next: {call.program} lint{where}"]


def started_text(started: StartedBridge, call: Call) -> list[str]:
    """Report a map that was started, and what to do with it."""
    values = amount(started.proposed, "value")
    lines = [f"{call.path(started.root / BRIDGE_FILE)} added for {started.file.as_posix()}."]
    if started.proposed:
        lines += paragraph(
            f"{values} of the description may stand in it: proposed as comments. Look at each "
            "before you take it over."
        )
    else:
        lines += paragraph(
            "No value of the description was recognised in it. The controller may count in other "
            "units: `jobcheck find FILE VALUE` looks one up."
        )
    if started.is_outside:
        folder = started.file.parent.as_posix()
        lines += ["", *paragraph(f"It lies outside the shop: give --controller {folder}")]
    if not started.is_named:
        lines += ["", "Add to shop.yaml:", "", f"bridge: {BRIDGE_FILE}"]
    return [*lines, "", f"Next: {call.command('gather')}"]
