"""Local dates and times as exports write them, turned into ISO 8601; their order is told by evidence."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from stillroom.errors import BadInput, Contradiction

ORDERS = ("dmy", "mdy", "ymd")

_MONTHS = {
    name: number
    for number, names in enumerate(
        ("jan", "feb", "mar mär mrz", "apr avr", "may mai", "jun", "jul", "aug", "sep", "oct okt", "nov",
         "dec dez déc"), 1
    )
    for name in names.split()
}  # fmt: skip
_TIME = (
    r"(?:[T ,]\s*(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<part>\d{1,6}))?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<zone>Z|[+-]\d{2}:?\d{2})?)?"
)
_YEAR_FIRST = re.compile(
    r"(?P<a>\d{4})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<c>\d{1,2})" + _TIME, re.ASCII
)
_YEAR_LAST = re.compile(
    r"(?P<a>\d{1,2})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<c>\d{4}|(?<=\.)\d{2}(?!\d))" + _TIME, re.ASCII
)
_NAMED = re.compile(r"(?P<a>\d{1,2})[-. /]+(?P<b>[^\W\d_]{3,9})\.?[-. /]+(?P<c>\d{4})" + _TIME)
_HALVES = re.compile(_TIME.removeprefix("(?:[T ,]\\s*").removesuffix(")?"), re.ASCII)
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2}([.,]\d{1,6})?)?(\s*[AaPp]\.?[Mm]\.?)?", re.ASCII)


_EARLY = 20
"""A year of two digits before this one is doubted where the first number could be a later one."""


def clock(text: str) -> str:
    """A time of the day; "2:05 PM" as 14:05:00.

    Raises
    ------
    ValueError : there is no such time.
    """
    if text[-1:] not in "mM.":
        return text
    hit = _HALVES.fullmatch(text)
    if hit is None:
        raise ValueError(text)
    return _clock(hit)


def is_clock(text: str) -> bool:
    """Whether a text is a time of the day without a date."""
    return _CLOCK.fullmatch(text) is not None


def is_date(text: str) -> bool:
    """Whether a text is a date, with or without a time of the day."""
    return any(each.fullmatch(text.strip()) for each in (_YEAR_FIRST, _YEAR_LAST, _NAMED))


def order_of(cells: Iterable[str], place: str, what: str, said: str = "") -> str:
    """How the dates of a column are written: "dmy", "mdy" or "ymd"; empty where it holds no dates.

    A number over 12 tells the day; points between day, month and year mean this order (31.12.2026). A year of
    two digits is believed only between points.

    Parameters
    ----------
    cells : the column's cells. place, what : for messages, such as "dates of column 'Day'".
    said : the order said by hand, or empty.

    Raises
    ------
    BadInput : 03/04/2026 and the like leave it open; says what to pass.
    Contradiction : one date can only be day/month, another only month/day.
    """
    orders: set[str] = set()
    open_: str = ""
    for cell in cells:
        text = cell.strip()
        if _YEAR_FIRST.fullmatch(text):
            orders.add("ymd")
        elif _NAMED.fullmatch(text):
            orders.add("dmy")
        elif hit := _YEAR_LAST.fullmatch(text):
            first, second = int(hit["a"]), int(hit["b"])
            if hit["mark"] == "." and len(hit["c"]) == 2 and int(hit["c"]) < _EARLY <= first and second <= 12:
                open_ = open_ or text  # 26.05.04 can be in 2026
            elif first > 12 or hit["mark"] == ".":
                orders.add("dmy")
            elif second > 12:
                orders.add("mdy")
            else:
                open_ = open_ or text
    if said and (orders or open_):
        return said
    if len(orders) > 1:
        raise Contradiction(
            what,
            place=place,
            found="written in several orders: " + ", ".join(sorted(orders)),
            expected="one order in a column, or --as dates=dmy (mdy, ymd)",
        )
    if open_ and not orders & {"dmy", "mdy"}:
        raise BadInput(
            what,
            place=place,
            found=f"{open_!r}, which can be "
            + ("day.month.year or year.month.day" if "." in open_ else "day/month or month/day"),
            expected="--as dates=dmy or --as dates=" + ("ymd" if "." in open_ else "mdy"),
        )
    return next(iter(orders), "")


def iso(text: str, order: str) -> str:
    """A date, or date and time, of the given order in ISO 8601; the text itself where order is empty.

    Raises
    ------
    ValueError : it is no date of that order.
    """
    bare = text.strip()
    if not order or not bare:
        return bare
    hit = (_YEAR_FIRST if order == "ymd" else _YEAR_LAST).fullmatch(bare)
    if hit is None and order == "ymd" and (short := _YEAR_LAST.fullmatch(bare)) and len(short["c"]) == 2:
        hit = short
    if hit is None and order == "dmy":
        hit = _NAMED.fullmatch(bare)
    if hit is None:
        raise ValueError(text)
    a, b, c = hit["a"], hit["b"], hit["c"]
    year, month, day = {"ymd": (a, b, c), "dmy": (c, b, a), "mdy": (c, a, b)}[order]
    number = _MONTHS.get(month[:3].casefold(), 0) if month.isalpha() else int(month)
    date = dt.date(int(year) + (2000 if len(year) == 2 else 0), number, int(day))
    return date.isoformat() if hit["hour"] is None else f"{date.isoformat()}T{_clock(hit)}"


def _clock(hit: re.Match[str]) -> str:
    hour = int(hit["hour"])
    if hit["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(hit.group())
        hour = hour % 12 + (12 if hit["half"][0] in "pP" else 0)
    part = (hit["part"] or "").ljust(6, "0")
    clock = dt.time(hour, int(hit["minute"]), int(hit["second"] or 0), int(part))
    zone = (hit["zone"] or "").replace("Z", "+00:00")
    if zone and ":" not in zone:
        zone = zone[:3] + ":" + zone[3:]
    return clock.isoformat() + zone
