"""Trials: what was seen of each part when a job was rehearsed or run."""

from typing import Annotated, Literal

from pydantic import Field

from jobcheck.schema.fields import Described, measurement, note, setting
from jobcheck.schema.values import Day, Key

Result = Literal["ok", "shifted", "reversed", "missed", "dropped", "not-seen"]
TrialKind = Literal["tape", "first-article", "paste"]
Fingerprint = Annotated[str, Field(pattern=r"^[pt]-[0-9a-f]{12}$")]


class Observation(Described):
    """What was seen of one placement."""

    result: Result = setting(
        "How it went: shifted is off its pads, reversed is turned the wrong way, missed was never "
        "picked, dropped was lost on the way."
    )
    x_mm: float | None = measurement("How far it was off along x, mm.", None, unit="mm")
    y_mm: float | None = measurement("How far it was off along y, mm.", None, unit="mm")
    turn_deg: float | None = measurement(
        "How far it was turned, degrees counter-clockwise.", None, unit="deg"
    )
    cell: str | None = note("The cell of the panel.")
    feeder: Key | None = note("The feeder it came from, where several hold the part.")
    nozzle: Key | None = note("The nozzle that placed it, where several may.")
    under: dict[str, Fingerprint] = note(
        "Fingerprints of what the result depends on, written by `jobcheck trial`.", {}
    )


class Trial(Described):
    """One rehearsal or run of a job."""

    describes: Literal["trial"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    job: str = setting("The job.")
    kind: TrialKind = setting(
        "What was placed on: tape proves position, recognition and polarity; a first article and a "
        "run with paste prove height and release too."
    )
    date: Day = note("The day of the trial.", ...)
    note: str | None = note("For people.")
    placements: dict[Key, Observation] = setting("What was seen, by reference.", {})
