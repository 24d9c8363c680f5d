"""What a description may say: the models, their field classes, the limits."""
