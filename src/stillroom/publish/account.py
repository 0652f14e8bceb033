"""The account: what a release may say in words, one true sentence after the other."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stillroom.publish.document import Document


class Kind(StrEnum):
    """What a sentence is about."""

    LEADER = "leader"
    PLACE = "place of the fan under review"
    UNRESOLVED = "not resolved"
    PRICE = "price"
    LEFT_OUT = "left out"
    MARKS = "marks"
    REGISTERED = "registered"
    CLAIM = "claim"
    ACCEPTED = "accepted finding"
    EXCLUDED = "exclusions"
    DISPUTE = "dispute"


@dataclass(frozen=True)
class Sentence:
    """One sentence of the account.

    Parameters
    ----------
    slug : of the published measure that it is about; "" where it is about the release or a box.
    kind : what it is about. fans : the fans that it names. text : the sentence, with its full stop.
    """

    slug: str
    kind: Kind
    fans: tuple[str, ...]
    text: str


@dataclass(frozen=True)
class Account:
    """What a release says in words.

    Parameters
    ----------
    sentences : in the order of the document. document : the same as a document.
    """

    sentences: tuple[Sentence, ...]
    document: Document
