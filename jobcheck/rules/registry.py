"""Every rule: the order here is the order of `jobcheck rules`."""

from jobcheck.rules import boards, cameras, feeders, fiducials, motion, parts, polarity, shop
from jobcheck.rules.base import Rule

AREAS = {
    "shop": shop.RULES,
    "cameras": cameras.RULES,
    "parts": parts.RULES,
    "feeders": feeders.RULES,
    "boards": boards.RULES,
    "polarity": polarity.RULES,
    "fiducials": fiducials.RULES,
    "motion": motion.RULES,
}
"""Area -> its rules."""

RULES: tuple[Rule, ...] = tuple(rule for rules in AREAS.values() for rule in rules)

BY_NAME: dict[str, Rule] = {rule.name: rule for rule in RULES}
