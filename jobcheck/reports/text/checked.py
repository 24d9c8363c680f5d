"""The report of `jobcheck checked`."""

from __future__ import annotations

from jobcheck.commands.checked import Checked
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, paragraph
from jobcheck.reports.text.proposals import STAMP_CAUTION, written_or_shown
from jobcheck.wording import listed


def checked_text(checked: Checked, call: Call, quiet: bool) -> list[str]:
    """Report which placements were looked at, and what contradicts it all the same."""
    lines: list[str] = []
    if checked.contradicted:
        names = listed(list(checked.contradicted))
        lines += paragraph(f"The pads of {names} contradict the list. Lint still reports it.")
    if checked.replaces_day:
        lines += paragraph(
            "Until now a day alone declared the whole list. From now on only the placements that "
            "are named here count as looked at."
        )
    if not checked.proposal.edited.files:
        number = amount(len(checked.references), "placement")
        return [*lines, *paragraph(f"{number} recorded already for this day: nothing to write.")]
    asked = command("checked", checked.job, *checked.references)
    return [*lines, *written_or_shown(checked.proposal, call, asked, STAMP_CAUTION, quiet)]
