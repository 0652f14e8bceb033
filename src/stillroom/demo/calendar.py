"""The working days of a round, laid so that the last of them lies just before the day the lab is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

USUAL_DAY = date(2026, 3, 13)
"""The day that a laboratory is made on where nobody tells one: tests get the same files on any day."""
_NAMED_FROM = date(2026, 3, 2)


@dataclass(frozen=True)
class Calendar:
    """The days of a round, counted from its first Monday, Monday to Friday.

    Parameters
    ----------
    first : the Monday of the first week.
    """

    first: date

    def day(self, number: int) -> str:
        """The date of a working day, counted from 0."""
        return (self.first + _after(number)).isoformat()

    def before(self, days: int) -> str:
        """The date so many days before the round."""
        return (self.first - timedelta(days=days)).isoformat()


def calendar_of(today: date, last: int) -> Calendar:
    """The latest round whose working day number `last` is not after `today`."""
    latest = today - _after(last)
    return Calendar(latest - timedelta(days=latest.weekday()))


def day_name(number: int) -> str:
    """The name of a day's random numbers: the same for a working day whatever its date."""
    return (_NAMED_FROM + _after(number)).isoformat()


def _after(number: int) -> timedelta:
    weeks, days = divmod(number, 5)
    return timedelta(days=7 * weeks + days)
