"""`python -m jobcheck`."""

from jobcheck.cli.process import run

run()
