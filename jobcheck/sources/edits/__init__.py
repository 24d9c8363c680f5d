"""Edits by span: new bytes for the touched values only."""
