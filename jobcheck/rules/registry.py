"""Every rule, written down one by one: the order here is the order of `jobcheck rules`."""

from jobcheck.rules import feeders, links, polarity, upkeep
from jobcheck.rules.base import Rule

RULES: tuple[Rule, ...] = (
    # links
    links.name_unknown,
    links.entries_unused,
    links.event_touches_nothing,
    links.pattern_brings_nothing,
    # feeders
    feeders.feeder_slot_shared,
    # polarity
    polarity.pick_rotation_half_turn,
    polarity.pick_rotation_quarter_turn,
    polarity.pick_rotation_off,
    polarity.tape_pin1_impossible,
    polarity.tape_pin1_unknown,
    # upkeep
    upkeep.acceptance_unused,
    upkeep.acceptance_run_out,
    upkeep.reason_missing,
    upkeep.rule_unknown,
)

BY_NAME: dict[str, Rule] = {rule.name: rule for rule in RULES}
