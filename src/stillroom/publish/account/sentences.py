"""The sentences of an account: what each is about, whom it names, and what it says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a sentence is about."""

    BEST = "best"
    AHEAD = "ahead"
    PLACE = "place of the fan under review"
    ALIKE = "too small to notice"
    UNRESOLVED = "not resolved"
    LEGACY = "legacy numbers"
    PRICE = "price"
    LEFT_OUT = "left out"
    MARK = "mark"
    OPEN = "open finding"
    REGISTERED = "registered"
    CLAIM = "claim"
    ACCEPTED = "accepted finding"
    EXCLUDED = "exclusion"
    DISPUTE = "dispute"


@dataclass(frozen=True)
class Sentence:
    """One sentence of the account.

    Parameters
    ----------
    slug : of the published measure that it is about; "" where it is about a box or the release.
    kind : what it is about. fans : the fans that it names, in the order in which it does. text : with its full stop.
    """

    slug: str
    kind: Kind
    fans: tuple[str, ...]
    text: str

    def as_dict(self) -> dict[str, object]:
        """The documented JSON of it."""
        return {"slug": self.slug, "kind": self.kind.value, "fans": list(self.fans), "text": self.text}
