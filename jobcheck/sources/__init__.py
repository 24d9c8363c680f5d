"""From the bytes of a state to a shop with the place of every value, and back by span."""
