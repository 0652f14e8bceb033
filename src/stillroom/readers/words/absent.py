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


OPEN = frozenset(
    {"open", "tc open", "open tc", "burnout", "burn out", "offen", "bruch", "fühlerbruch", "ouvert", "nan", "null",
     "none", "nil", "nc", "n.c.", "disconnected", "no probe", "no sensor", "kein fühler", "err", "error", "fault",
     "fehler", "invalid", "#value!", "#num!", "#div/0!", "?", "off"}
)  # fmt: skip
"""What a logger writes for a probe that is open, or a channel that is off."""

BEYOND = frozenset(
    {"inf", "+inf", "-inf", "infinity", "over-range", "under-range", "underrange", "under range", "out of range", "oor",
     "hi", "lo", "high", "low", "ul", "-ul", "uflow", "oflow", "sat", "saturated", "range", "bereich", "messbereich"}
)  # fmt: skip
"""What a logger writes for a reading over or under its range."""


def log_absence(cell: str) -> str:
    """Why a cell of a log holds no number, in words; "" where it isn't one of the marks that only loggers write."""
    word = cell.strip().casefold()
    if word in OPEN or (len(word) > 1 and "-" in word and set(word) <= set("-–—.,")):
        return "not read"
    return "over the range" if word in BEYOND else ""
