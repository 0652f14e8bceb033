"""Which program this is: what a release names as its maker."""

VERSION = "0.1.0"
"""Of Stillroom; pyproject.toml and the news name the same."""
