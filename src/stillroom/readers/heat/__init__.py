"""Logs of a heat rig: their clocks, their channels, and what is missing in them."""
