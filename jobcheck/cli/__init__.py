"""The command line: parse arguments, call one function, choose a report, return an exit code."""
