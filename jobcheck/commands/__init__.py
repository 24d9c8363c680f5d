"""The use cases: one module a command, without argument parsing and without printing."""
