"""Two shops to their changes and the impact of each; changes put back."""
