"""Rules about the shop as a whole: names, records, the controller, events, acceptances."""

from jobcheck.rules.base import Rule
from jobcheck.rules.shop import controller, dates, files, links, record, stale, upkeep

RULES: tuple[Rule, ...] = (
    links.name_unknown,
    links.entries_unused,
    links.event_touches_nothing,
    files.file_no_longer_named,
    files.pattern_matches_nothing,
    record.camera_settings_lost,
    record.recorded_value_missing,
    controller.controller_differs,
    stale.measured_before_event,
    stale.event_name_contradicts_date,
    stale.reel_of_other_part,
    dates.date_in_future,
    dates.date_before_recorded,
    stale.copied_value_differs,
    upkeep.acceptance_unused,
    upkeep.acceptance_expired,
    upkeep.acceptance_without_end,
    upkeep.reason_missing,
    upkeep.silencing_without_effect,
)
