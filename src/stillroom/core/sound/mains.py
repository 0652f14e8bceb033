"""The mains, whose hum lies among a fan's tones."""

from __future__ import annotations

FREQUENCIES = (50.0, 60.0)
"""Of the mains [Hz]: no comb of a fan's may be made of their multiples."""

WITHIN = 0.0015
"""How far the mains may be off [1]."""

MULTIPLES = 8
"""So many of its multiples may be heard."""
