"""The report of `jobcheck new`."""

from __future__ import annotations

from jobcheck.commands.new import NewShop
from jobcheck.findings import Command, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, paragraph, proposed
from jobcheck.sources.bridge.starting import StartedBridge

HOOK = """\
default_install_hook_types: [pre-commit, pre-merge-commit]
repos:
  - repo: https://example.org/jobcheck     # where you got jobcheck from
    rev: COMMIT
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
        *paragraph(
            "Values marked `starter` in derived are invented. Measure each, write it, and remove "
            "its mark. Until then lint counts them as not checked, and keep refuses them."
        ),
        "",
        "To check every commit, add this to .pre-commit-config.yaml:",
        "",
        *HOOK.splitlines(),
        "",
        "Then install the hook:",
        "  pre-commit install",
    ]
    files = () if folder == "." else (made.folder,)
    return [*lines, *proposed("Next", call.typed(Command(("lint",), files=files)))]


def started_text(started: StartedBridge, call: Call) -> list[str]:
    """Report a map that was started, and what to do with it."""
    file = call.path(started.file)
    lines = [f"{call.path(started.map_file)} added for {file}."]
    if started.proposed:
        lines += paragraph(
            f"{amount(started.proposed, 'value')} of the description may be in it: proposed as "
            "comments. Compare each before you use it."
        )
    else:
        lines += paragraph(
            "No value of the description was found in it; the controller may use other units."
        )
    if started.is_outside:
        folder = call.path(started.file.parent)
        lines += ["", *paragraph(f"It is outside the shop: give --controller {folder}")]
    if not started.is_named:
        lines += ["", "Add to shop.yaml:", f"  bridge: {started.map_file.name}"]
    lines += ["", "To search for a number that you know:"]
    lines.append(f"  {call.typed(command('find', file, 'VALUE'))}")
    if not started.is_named:
        return lines
    where = ("--controller", call.path(started.file.parent)) if started.is_outside else ()
    return [*lines, *proposed("Next", call.typed(command("gather", *where)))]
