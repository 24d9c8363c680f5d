"""`jobcheck retuned`."""

from __future__ import annotations

from jobcheck.cli.completion import selections_argument
from jobcheck.cli.group import cli
from jobcheck.cli.options import OK, Options, common, write_option


@cli.command()
@selections_argument
@write_option
@common()
def retuned(options: Options, selections: tuple[str, ...], write: bool) -> int:
    """Stamp recognitions as tuned under the present settings.

    A SELECTION is a recognition (recognitions.diode), or a camera for all of its own.
    """
    from jobcheck.commands.retuned import retune
    from jobcheck.reports.text.proposals import retuned_text

    root = options.root
    done = retune(root, selections, options.as_of, write=write)
    options.streams.show(retuned_text(done, options.call_about(root), selections, options.quiet))
    return OK
