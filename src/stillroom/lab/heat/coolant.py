"""The coolant of a rig by the log book: since when it is in the loop, and when it was topped up."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from stillroom.lab.book import Book
from stillroom.records.acts import Event

_COOLANT = re.compile(r"\b(coolant|loop|liquid|water|glycol)\b", re.IGNORECASE)
_TOPPED = re.compile(r"\btop(?:ped|ping)?[ -]?(?:up|-up)\b|\btop-up\b", re.IGNORECASE)
_FILLED = re.compile(
    r"\b(changed?|filled|refilled|replaced|renewed|new|flushed|drained|exchanged)\b", re.IGNORECASE
)


@dataclass(frozen=True)
class Coolant:
    """What is noted of a rig's coolant up to a day; "" where nothing is.

    Parameters
    ----------
    filled : day on which the loop was filled anew. topped_up : day on which it was last topped up. ISO 8601.
    """

    filled: str = ""
    topped_up: str = ""

    @property
    def era(self) -> str:
        """The day since which the coolant and its flow go on undisturbed; "" where none was noted."""
        return max(self.filled, self.topped_up)

    def age(self, day: str) -> float | None:
        """How old the filling is on a day [s]; None where nobody noted it."""
        if not self.filled:
            return None
        return (date.fromisoformat(day[:10]) - date.fromisoformat(self.filled)).days * 86_400.0


def is_filling(event: Event) -> bool:
    """Whether a line in the log says that the loop was filled anew."""
    return _is_of_coolant(event) and not _TOPPED.search(event.text) and bool(_FILLED.search(event.text))


def is_topping_up(event: Event) -> bool:
    """Whether a line in the log says that coolant was topped up."""
    return _is_of_coolant(event) and bool(_TOPPED.search(event.text))


def _is_of_coolant(event: Event) -> bool:
    return bool(_COOLANT.search(event.text))


def coolant_of(book: Book, rig: str, moment: str, told: str = "") -> Coolant:
    """What is noted of a rig's coolant before a moment.

    Parameters
    ----------
    rig : its name. moment : of a run, ISO 8601. told : the day of the filling that a run tells, or "".
    """
    length = min(len(moment), len("2026-03-02T09:30"))
    before = [
        each
        for each in book.events.values()
        if each.rig in (None, "", rig)
        and each.time.strip().replace(" ", "T")[:length] <= moment.replace(" ", "T")[:length]
    ]
    filled = max((each.time.strip()[:10] for each in before if is_filling(each)), default="")
    topped = max((each.time.strip()[:10] for each in before if is_topping_up(each)), default="")
    return Coolant(max(filled, told[:10]), topped)
