"""Eras of a rig: between two events that can move results, numbers of the rig go together without a bridge.

An era begins with an event in the log that changes results, on this rig or on all rigs. A calibration begins
none: it is corrected for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stillroom.lab.book import Book
from stillroom.lab.eras.rig_nodes import RigNode
from stillroom.records.acts import Event


@dataclass(frozen=True)
class Era:
    """One era of a rig.

    Parameters
    ----------
    rig : its name, "" for runs that name none. number : from 1. began : the event's time, "" for the first.
    why : the event's words, "" for the first.
    """

    rig: str
    number: int
    began: str = ""
    why: str = ""

    @property
    def words(self) -> str:
        """As people name it."""
        since = f" (since {self.why!r}, {self.began[:10]})" if self.began else ""
        return f"era {self.number} of {self.rig or 'the rig'}{since}"


def era_number(era: Era) -> int:
    """By which eras of a rig are ordered."""
    return era.number


@dataclass(frozen=True)
class Placing:
    """The era of a run, and the event of the same day that it can't be told from, or ""."""

    era: Era
    doubt: str = ""


def eras_of(book: Book, rig: str) -> tuple[Era, ...]:
    """All eras of a rig, the first first."""
    changes = sorted(changing_events(book, rig), key=lambda each: _clock(each.time))
    later = (Era(rig, number, each.time, each.text) for number, each in enumerate(changes, start=2))
    return (Era(rig, 1), *later)


def changing_events(book: Book, rig: str) -> list[Event]:
    """The events that can move the results of a rig; one that names no rig concerns all."""
    return [each for each in book.events.values() if each.changes_results and each.rig in (None, "", rig)]


def placing_of(book: Book, rig: str, date: str) -> Placing:
    """The era in which a run lies, by its date or time.

    On the day of an event a run whose time was not told counts as made after it, and that is said: work on a
    rig is noted before it goes on being used.

    Parameters
    ----------
    date : of the run, ISO 8601, with or without time.
    """
    return _placed(eras_of(book, rig), date)


def _placed(eras: tuple[Era, ...], date: str) -> Placing:
    found = Placing(eras[0])
    for era in eras[1:]:
        at, began = _clock(date), _clock(era.began)
        length = min(len(at), len(began))
        if at[:length] < began[:length]:
            break
        same_day = at[:length] == began[:length] and length < len("2026-03-09T10:30")
        found = Placing(era, f"{era.why} ({era.began[:10]})" if same_day else "")
    return found


def _clock(time: str) -> str:
    """A local time to the minute, as rigs and logs write it; the day alone where no time was told."""
    return time.strip().replace(" ", "T")[:16]


class Eras:
    """The eras of all mountings of a lab, worked out once."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._of_rig: dict[str, tuple[Era, ...]] = {}

    def of_rig(self, rig: str) -> tuple[Era, ...]:
        """All eras of a rig."""
        if rig not in self._of_rig:
            self._of_rig[rig] = eras_of(self._book, rig)
        return self._of_rig[rig]

    def placing(self, node: RigNode) -> Placing:
        """The era of a mounting: of its first run."""
        return _placed(self.of_rig(node.rig), node.date)

    def of(self, node: RigNode) -> Era:
        """The era of a mounting."""
        return self.placing(node).era

    def latest(self, nodes: Iterable[RigNode]) -> dict[str, Era]:
        """The latest era of each rig in which one of these mountings lies, {rig: era}."""
        found: dict[str, Era] = {}
        for era in map(self.of, nodes):
            if era.rig not in found or era.number > found[era.rig].number:
                found[era.rig] = era
        return found
