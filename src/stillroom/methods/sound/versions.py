"""The versions of the sound methods, by which keys are made without loading the methods themselves."""

from __future__ import annotations

RECORDING = 2
"""Raised when the same bytes would give another analysis."""

MOUNTING = 4
"""Raised when the same analyses would give other numbers."""
