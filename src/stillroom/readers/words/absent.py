"""Words that stand in a numeric cell for a reading that wasn't taken or went over the instrument's range."""

from __future__ import annotations

MISSING = frozenset({"-", "n/a", "n.a.", "na", "#n/a", "#nv", "missing", "fehlt", "k.a."})
"""No reading was taken (a run of dashes says the same)."""

OVERFLOW = frozenset(
    {"ol", "o.l.", "ovl", "ovld", "ovr", "ovf", "over", "+over", "-over", "overload", "overflow", "overrange",
     "over range", "+ol", "-ol", "+ovl", "-ovl", "überlauf", "dépassement"}
)  # fmt: skip
"""The instrument was over its range (a cell of ### says that it was too narrow for its number)."""


def absence(cell: str) -> str:
    """Why a cell holds no number, in words; empty where it isn't one of the known marks."""
    word = cell.strip().casefold()
    if word in MISSING or (len(word) > 1 and set(word) <= set("-–—")):
        return "not read"
    if word in OVERFLOW:
        return "over the range"
    if len(word) > 2 and set(word) == {"#"}:
        return "not shown"
    return ""
