"""A catalogue of faults generated from the fields of the description, not from the rules.

Each field of a clean shop is left out, made ten times and a tenth as large, negated (a truth value
is turned round), exchanged with its neighbour's and replaced by its neighbour's. `classes.txt` says
once of each what must come of it; it was written before the first run, by somebody who had not
written the rules. A class that is changed later has its reason beside it.
"""
