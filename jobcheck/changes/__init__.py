"""Two shops to their changes, what each endangers, and changes put back."""
