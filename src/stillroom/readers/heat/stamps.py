"""The time column of a log as seconds: local dates, clocks, seconds since the start, seconds since 1970."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from enum import Enum
from functools import lru_cache

import numpy as np

from stillroom.readers.words.dates import clock, iso
from stillroom.readers.words.numbers import Array

DAY = 86_400.0

EPOCHS = (
    (0.5e9, 4.1e9, 1.0),
    (0.5e12, 4.1e12, 1e-3),
    (0.5e15, 4.1e15, 1e-6),
)
"""Numbers between two bounds are seconds, milliseconds or microseconds since 1970 (1985 to 2099): no log has run so
long since its own start."""


class Stamped(Enum):
    """What the times of a log are. The values are the words of previews."""

    DATED = "local date and time"
    CLOCK = "time of the day"
    ELAPSED = "time since the start"
    EPOCH = "seconds since 1970, taken as UTC"

    @property
    def tells_day(self) -> bool:
        """Whether the day is known from them."""
        return self in {Stamped.DATED, Stamped.EPOCH}


_CLOCK = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?", re.ASCII)
_ZONE = re.compile(r"(?:Z|[+-]\d{2}:?\d{2})$", re.ASCII)
_NUMBER = re.compile(r"\d{1,17}(?:[.,]\d{1,9})?", re.ASCII)
_PARTED = re.compile(r"[T ,]\s*(?=\d{1,2}:)")
_HALVES = ("m", "M", ".")


class NoStamp(ValueError):
    """A cell that holds no time.

    Parameters
    ----------
    at : its index among the cells. text : what it holds.
    """

    def __init__(self, at: int, text: str) -> None:
        super().__init__(text)
        self.at, self.text = at, text


def epoch_factor(value: float) -> float:
    """What a number since 1970 is to be multiplied by to have seconds; 0.0 where it is none."""
    return next((factor for low, high, factor in EPOCHS if low <= value <= high), 0.0)


def is_epoch_text(text: str) -> bool:
    """Whether a cell holds a number that can only count from 1970."""
    bare = text.strip()
    return _NUMBER.fullmatch(bare) is not None and epoch_factor(float(bare.replace(",", "."))) > 0.0


def is_number_text(text: str) -> bool:
    """Whether a cell of a time column holds a plain number."""
    return _NUMBER.fullmatch(text.strip()) is not None


def stamps_of(times: Sequence[str], dates: Sequence[str] | None, order: str) -> tuple[Stamped, Array]:
    """The texts of time columns as seconds: since 1970 of dates (local, as they are written) and of epochs, of the
    day of clocks.

    Parameters
    ----------
    times : a cell each. dates : the cells of a date column beside it, or None. order : of local dates, "dmy" …

    Raises
    ------
    NoStamp : a cell that is none; times of two kinds.
    """
    if dates is not None:
        return Stamped.DATED, _all(dates, times, order)
    first = next((each.strip() for each in times if each.strip()), "")
    if is_epoch_text(first):
        return Stamped.EPOCH, _epochs(times)
    if _is_clock(first):
        return Stamped.CLOCK, _each(times, _second_of_day)
    return Stamped.DATED, _dated(times, order)


def _all(dates: Sequence[str], times: Sequence[str], order: str) -> Array:
    seconds = np.empty(len(times))
    for at, (day, time) in enumerate(zip(dates, times, strict=True)):
        try:
            seconds[at] = _day(day.strip(), order) + _second_of_day(time.strip())
        except ValueError:
            raise NoStamp(at, f"{day.strip()} {time.strip()}") from None
    return seconds


def _each(texts: Sequence[str], read: Callable[[str], float]) -> Array:
    seconds = np.empty(len(texts))
    for at, text in enumerate(texts):
        try:
            seconds[at] = read(text.strip())
        except ValueError:
            raise NoStamp(at, text) from None
    return seconds


def _epochs(texts: Sequence[str]) -> Array:
    seconds = np.empty(len(texts))
    for at, text in enumerate(texts):
        if not is_number_text(text):
            raise NoStamp(at, text)
        value = float(text.strip().replace(",", "."))
        factor = epoch_factor(value)
        if not factor:
            raise NoStamp(at, text)
        seconds[at] = value * factor
    return seconds


def _dated(texts: Sequence[str], order: str) -> Array:
    """Dates with times; of zones the first one's counts, so that a clock that is put back shows nothing."""
    seconds = np.empty(len(texts))
    zone: float | None = None
    for at, text in enumerate(texts):
        bare = text.strip()
        own = 0.0
        if hit := _ZONE.search(bare, 10):
            own = _zone(hit[0])
            zone = own if zone is None else zone
            bare = bare[: hit.start()].strip()
            own -= zone
        try:
            day, time = _two(bare)
            seconds[at] = _day(day, order) + _second_of_day(time) - own
        except ValueError:
            raise NoStamp(at, text) from None
    return seconds


def _two(text: str) -> tuple[str, str]:
    hit = _PARTED.search(text)
    if hit is None:
        raise ValueError(text)
    return text[: hit.start()], text[hit.end() :]


@lru_cache(maxsize=512)
def _day(text: str, order: str) -> float:
    """A day as seconds since 1970."""
    day = dt.date.fromisoformat(iso(text, order or "ymd"))
    return (day - dt.date(1970, 1, 1)).days * DAY


@lru_cache(maxsize=32)
def _zone(text: str) -> float:
    if text == "Z":
        return 0.0
    sign = -1.0 if text[0] == "-" else 1.0
    return sign * (int(text[1:3]) * 3600.0 + int(text[-2:]) * 60.0)


def _is_clock(text: str) -> bool:
    return _CLOCK.fullmatch(text.rstrip("aApPmM. ")) is not None


def _second_of_day(text: str) -> float:
    """A clock as seconds; one that counts on beyond 24 hours too ("26:03:10")."""
    if text.endswith(_HALVES):
        text = clock(text)
    hit = _CLOCK.fullmatch(text)
    if hit is None:
        raise ValueError(text)
    hour, minute, second, part = hit.groups()
    if int(minute) > 59 or int(second or 0) > 59:
        raise ValueError(text)
    whole = int(hour) * 3600.0 + int(minute) * 60.0 + int(second or 0)
    return whole + float(f"0.{part}") if part else whole


def moment(seconds: float) -> str:
    """Seconds since 1970 as ISO 8601 without a zone, with milliseconds where there are any."""
    at = dt.datetime(1970, 1, 1) + dt.timedelta(milliseconds=round(seconds * 1e3))
    return at.isoformat(timespec="milliseconds" if at.microsecond else "seconds")


def seconds_of(iso_moment: str) -> float:
    """ISO 8601 without a zone as seconds since 1970; the inverse of `moment`."""
    return (dt.datetime.fromisoformat(iso_moment) - dt.datetime(1970, 1, 1)).total_seconds()
