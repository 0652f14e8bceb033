"""The quantities nearest to what somebody told of a column, for messages."""

from __future__ import annotations

from difflib import SequenceMatcher

from stillroom.readers.words.headers import READ, squeeze
from stillroom.vocabulary import Quantity

MOST = 3
"""So many are named."""


def nearest(told: str, dimension: str = "") -> tuple[str, ...]:
    """The names of the quantities that a word is nearest to, the nearest first.

    Parameters
    ----------
    told : what somebody wrote. dimension : of the column's unit, "" where none is stated: quantities of another are
    left out.
    """
    word = squeeze(told)
    fitting = [each for each in READ if not dimension or each.dimension == dimension]
    return tuple(each.name for each in sorted(fitting, key=lambda each: -_likeness(word, each))[:MOST])


def _likeness(word: str, quantity: Quantity) -> float:
    """How alike a word and the likest name of a quantity are [1]; a part of the name counts for most."""
    names = [squeeze(each) for each in (quantity.name, quantity.label, *quantity.aliases)]
    own = squeeze(quantity.name)
    part = 1.0 if word and (word in own or own in word) else 0.0
    return part + max(SequenceMatcher(None, word, each).ratio() for each in names)
