"""What one recording, or one row of a table of levels, tells before it is calibrated."""

from __future__ import annotations

VERSION = 1
"""Raised when the same bytes would give other numbers."""
