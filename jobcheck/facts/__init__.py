"""What follows from one shop: frames, layout, polarity, usage, supply, pace, fingerprints."""
