"""What an answer does not know, in a line for each reason: it stands under what is known, not among it."""

from __future__ import annotations

from collections.abc import Iterable

from stillroom import wording
from stillroom.lab.ranking_words import NEEDED


def unknown_lines(told: Iterable[tuple[str, str]], where: str = "") -> list[str]:
    """Why some numbers are unknown, those with one reason together.

    Parameters
    ----------
    told : (what is unknown, why) of each. where : behind the first word, such as "on heat-1 at full setting".
    """
    reasons: dict[str, list[str]] = {}
    for what, why in told:
        reasons.setdefault(why, []).append(what[:1].lower() + what[1:])
    return [
        f"{f'Unknown {where}'.strip()}: {wording.listed(each)}: {why_words(why)}"
        for why, each in reasons.items()
    ]


def why_words(why: str) -> str:
    """A reason and what would be needed, in words."""
    found, _, needed = why.partition(NEEDED)
    return f"{found}. Needed: {needed}" if needed else found
