"""The description: what a shop's files may say, and the plain types that speak about it."""
