"""Standings: which fan is ahead, tied, not resolved or behind, and how sure that is."""
