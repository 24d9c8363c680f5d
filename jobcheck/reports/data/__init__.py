"""Results for programs."""
