"""A catalogue of single planted faults: each is found by the rule that names its cause."""
