"""`python -m heattrace`."""

from heattrace.cli.app import run

run()
