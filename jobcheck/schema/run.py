"""Bookings: what a run has used of each feeder."""

from typing import Literal

from jobcheck.schema.fields import Described, count, note, setting
from jobcheck.schema.values import Day, Key


class Taken(Described):
    """The count of one feeder before and after; of a tray without a count, its next pocket."""

    before: int = count("The count before.")
    after: int = count("The count after.")


class Booking(Described):
    """What one run has used; it is written before the counts, so that repeating completes it."""

    describes: Literal["run"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    job: str = setting("The job.")
    panels: int = count("Panels that were built, or boards without a panel.", ge=0)
    date: Day = note("The day on which it was booked.", ...)
    lost: dict[Key, int] = count(
        "Parts lost beside what was placed, by feeder; negative for a correction.", {}
    )
    feeders: dict[Key, Taken] = count("The counts of the feeders.", {})
