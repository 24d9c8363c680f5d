"""The trade's arithmetic: pure functions over numbers, no files, no models, no rules."""
