"""The command line: parse, call one verb, show what it said."""

from stillroom.cli.main import main

__all__ = ["main"]
