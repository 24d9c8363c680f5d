"""YAML: plain values with a place for each."""
