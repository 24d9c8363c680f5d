"""Rules about the shop as a whole: names, records, the controller, events, acceptances."""

from jobcheck.rules.base import Rule
from jobcheck.rules.shop import controller, dates, files, links, record, stale, unmeasured, upkeep

RULES: tuple[Rule, ...] = (
    links.name_unknown,
    links.entries_unused,
    files.file_no_longer_named,
    record.camera_settings_lost,
    record.recorded_value_missing,
    controller.controller_differs,
    stale.measured_before_event,
    stale.reel_of_other_part,
    dates.date_implausible,
    stale.copied_value_differs,
    unmeasured.derived_without_value,
    upkeep.acceptance_outdated,
    upkeep.silencing_faulty,
)
