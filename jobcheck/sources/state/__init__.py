"""States and the writing of files: a folder, git, one writer at a time."""
