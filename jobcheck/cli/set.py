"""`jobcheck set`: the device of a camera as it is described."""

from __future__ import annotations

import click

from jobcheck.cli.completion import complete_camera, complete_state
from jobcheck.cli.group import cli
from jobcheck.cli.options import FOUND, OK, Options, common, show_json


@cli.command("set")
@click.argument("camera", shell_complete=complete_camera)
@click.option(
    "--from",
    "state",
    default="now",
    metavar="STATE",
    shell_complete=complete_state,
    help="Set what another state describes, for example good.",
)
@click.option("--write", is_flag=True, help="Set it; without this it is only previewed.")
@common("json")
def set_(options: Options, camera: str, state: str, write: bool) -> int:
    """Set the device of a connected CAMERA to its description."""
    from jobcheck.commands.set import set_camera
    from jobcheck.devices.system import Linux
    from jobcheck.reports.text.set import set_data, set_text

    root = options.root
    done = set_camera(root, camera, state, Linux(), options.as_of, write=write)
    if options.format == "json":
        show_json(options, set_data(done))
    else:
        words = [camera, *(["--from", state] if state != "now" else [])]
        options.streams.show(set_text(done, options.call_about(root), words))
    return OK if done.is_right else FOUND
