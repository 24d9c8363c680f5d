"""Transcripts of the command line: what was typed, what was printed, the exit code.

Each `*.txt` here is one story on copies of the example shops and of the starter (as `starter`).
Lines that begin with `$ ` are run: `$ jobcheck ...`, or `$ put FILE: OLD => NEW` which edits a file
as a person would; `$ plug in ...` puts emulated cameras in the place of the system's.
`python -m tests.golden` writes all transcripts anew; read the difference.
"""
