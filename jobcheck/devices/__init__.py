"""The cameras themselves: listings of their controls."""
