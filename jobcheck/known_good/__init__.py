"""Known-good records: stored, listed, withdrawn; each is a state."""
