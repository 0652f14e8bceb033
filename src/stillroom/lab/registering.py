"""Whether a measure was registered before its data: by the order of the journal, not by a date that was typed."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.compare.candidates import Margin
from stillroom.lab.book import Book
from stillroom.lab.field import Asked
from stillroom.lab.recipes import Graph
from stillroom.store.lab import Lab

NOT_REGISTERED = "not registered before its data"
"""What is said of a measure that no round names."""


@dataclass(frozen=True)
class Registered:
    """That a round names a measure, since when, and what had been seen by then.

    Parameters
    ----------
    round, question, note : as the round tells them; "" where nothing is told.
    sequence, time : of the journal's entry by which the measure was first registered.
    fans : how many fans the comparison has data of. late : those of which data were in before the entry.
    earlier : those of which data came in after it, but were taken before it by their own date.
    margin_told : the margin that was registered, in words, "" where none was. margin : the same, in SI.
    changed : margins that were told later, as (time, margin in words).
    """

    round: str
    question: str
    note: str
    sequence: int
    time: str
    fans: int
    late: tuple[str, ...]
    earlier: tuple[str, ...]
    margin_told: str = ""
    margin: Margin | None = None
    changed: tuple[tuple[str, str], ...] = ()

    @property
    def is_before(self) -> bool:
        """Whether no fan's data were there before the measure was registered."""
        return not self.late and not self.earlier

    @property
    def words(self) -> str:
        """In words, without a full stop: "registered on 2026-11-02 before its data"."""
        raise NotImplementedError


def registered_for(lab: Lab, book: Book, graph: Graph, asked: Asked) -> Registered | None:
    """Which round registered a measure, and what had been seen by then; None where no round names it."""
    raise NotImplementedError
