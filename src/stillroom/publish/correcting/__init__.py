"""Corrections: what moved since a release was frozen, why, and the notice that says so."""
