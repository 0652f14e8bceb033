"""What the control of a mounting is, in a few words, where a number is followed back."""

from __future__ import annotations

from stillroom import wording
from stillroom.store.results import Result

_TABLES = {"steps": "response", "starts": "table of start attempts", "inrush": "record of a start"}


def control_words(result: Result) -> str:
    """How many tables of which kind it rests on."""
    kinds = [each["table"] for each in result.body["runs"]]
    counts = [_counted(kinds.count(kind), words) for kind, words in _TABLES.items() if kind in kinds]
    return f"control from {wording.listed(counts)}"


def _counted(amount: int, words: str) -> str:
    if amount == 1:
        return f"one {words}"
    first, *rest = words.split(" ")
    return " ".join((wording.count(amount), f"{first}s", *rest))
