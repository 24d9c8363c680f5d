"""Ordinary, true shops: lint must not find an error in them."""
