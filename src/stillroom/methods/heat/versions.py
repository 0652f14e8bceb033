"""The versions of the heat methods, by which keys are made without loading the methods themselves."""

from __future__ import annotations

MOUNTING = 6
"""Raised when the same logs would give other numbers."""

LAW = 2
"""Raised when the same heat and airflow would give another law of resistance against airflow."""
