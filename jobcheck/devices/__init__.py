"""The cameras themselves: what a device reports, from a saved listing or live, and setting it."""
