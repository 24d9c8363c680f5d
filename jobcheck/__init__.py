"""Checks the description of a desktop pick-and-place shop: at every commit, before every run."""

__version__ = "0.1.0"
