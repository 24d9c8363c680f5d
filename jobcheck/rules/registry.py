"""Every rule, written down one by one: the order here is the order of `jobcheck rules`."""

from jobcheck.rules import feeders
from jobcheck.rules.base import Rule

RULES: tuple[Rule, ...] = (feeders.feeder_slot_shared,)

BY_NAME: dict[str, Rule] = {rule.name: rule for rule in RULES}
