"""`python -m jobcheck`."""

from jobcheck.cli import run

run()
