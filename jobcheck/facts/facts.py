"""What follows from one shop, each worked out once and only when it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from jobcheck.facts.layout import Layout, lay_out
from jobcheck.facts.links import Links, find_links
from jobcheck.facts.polarity import Polarity
from jobcheck.facts.usage import Usage
from jobcheck.shop.shop import Shop


class Facts:
    """A shop and what follows from it."""

    def __init__(self, shop: Shop) -> None:
        """Take a shop; nothing is worked out yet."""
        self.shop = shop

    @cached_property
    def links(self) -> Links:
        """Every name that points somewhere, resolved once."""
        return find_links(self.shop)

    @cached_property
    def usage(self) -> Usage:
        """What depends on what: from recognitions, outlines and nozzles to placements."""
        return Usage(self.shop, self.links)

    @cached_property
    def layouts(self) -> Mapping[str, Layout]:
        """Job -> where its bodies are on the board; close ones are searched once."""
        return {name: lay_out(self.shop, self.usage, name) for name in self.shop.jobs}

    @cached_property
    def polarity(self) -> Polarity:
        """The legs of polarity: what feeders and lists say of pin 1."""
        return Polarity(self.shop, self.usage)
