"""What is told of a logger's file beside fan and setting: its clock, its session, the liquid, that it is a bath."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from typing import Any

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.book import BATH
from stillroom.readers.paths.names import without_suffix
from stillroom.vocabulary import is_unit, to_si, unit

FIELDS = ("logger", "clock_offset", "session", "coolant_filled", "what")
"""All that can be told of a log of the heat rig, as `Run` names it."""

MOST_OFFSET = 400 * 86_400.0
"""A clock that is further off than this is none that anybody can mean [s]."""

_NUMBER = re.compile(r"(?P<number>[+\-−]?\d+(?:[.,]\d+)?)\s*(?P<unit>\D.*)?", re.ASCII)
_BATH = re.compile(r"(?:^|[/_\- ])(?:bath|wasserbad|eisbad|bain)(?:$|[/_\- \d])", re.IGNORECASE)


def heat_in_si(name: str, text: str, place: str) -> str:
    """What was told of a log, as it is kept: an offset in seconds, a day in ISO 8601, "bath".

    Parameters
    ----------
    name : one of `FIELDS`. text : as it was told. place : by whom, for messages.

    Raises
    ------
    BadInput, Contradiction : it is nothing that can be meant; says what would be right.
    """
    return _READERS.get(name, _text)(text.strip(), place)


def _text(text: str, _place: str) -> str:
    return text


def _offset(text: str, place: str) -> str:
    hit = _NUMBER.fullmatch(text)
    if hit is None:
        raise BadInput("clock offset", place=place, found=repr(text), expected="such as '60 s' or '-1.5 min'")
    words = (hit["unit"] or "s").strip()
    if not is_unit(words) or unit(words).dimension != "time":
        raise Contradiction(
            "unit of clock offset", place=place, found=repr(text), expected="a time such as '60 s'"
        )
    value = to_si(float(hit["number"].replace(",", ".").replace("−", "-")), words)
    check_heat("clock_offset", value, place, text)
    return repr(value)


def _day(text: str, place: str) -> str:
    check_heat("coolant_filled", text, place, text)
    return text


def _what(text: str, place: str) -> str:
    check_heat("what", text, place, text)
    return text.casefold()


_READERS: Mapping[str, Callable[[str, str], str]] = {
    "clock_offset": _offset,
    "coolant_filled": _day,
    "what": _what,
}


def check_heat(name: str, value: Any, place: str, text: str) -> None:
    """Refuse what nobody can mean of a log.

    Parameters
    ----------
    name : one of `FIELDS`. value : as a record holds it [SI]. place : who told it. text : as it was told.

    Raises
    ------
    BadInput : names what would be right.
    """
    if name == "clock_offset" and not abs(value) <= MOST_OFFSET:
        raise BadInput("clock offset", place=place, found=repr(text), expected="at most 400 days")
    if name == "what" and value.strip().casefold() != BATH:
        raise BadInput("what", place=place, found=repr(text), expected=f"{BATH}, or nothing")
    if name == "coolant_filled" and not _is_day(value):
        raise BadInput(
            "day on which the coolant was filled in",
            place=place,
            found=repr(text),
            expected="such as 2026-03-01",
        )


def _is_day(text: str) -> bool:
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def heat_words(name: str, value: str) -> str:
    """What was told of a log as people write it, from how it is kept."""
    return f"{float(value):+g} s" if name == "clock_offset" else value


def told_by_log_name(name: str) -> dict[str, str]:
    """What the name of a log tells: that all probes lay in one bath."""
    return {"what": BATH} if _BATH.search(without_suffix(name)) else {}


_MINUTES = re.compile(r"\d+(?:[.,]\d+)?(?:\s*min)?", re.ASCII)
_MOMENT = re.compile(r"(?:\d{4}-\d{2}-\d{2}[T ])?(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?", re.ASCII)


def end_of_step(text: str) -> tuple[str, float] | None:
    """What an end of a step tells: ("minutes", since the run's start) or ("clock", second of the day); None
    of neither.
    """
    bare = text.strip()
    if _MINUTES.fullmatch(bare):
        return "minutes", float(bare.removesuffix("min").strip().replace(",", "."))
    hit = _MOMENT.fullmatch(bare)
    if hit is None or int(hit[1]) > 23 or int(hit[2]) > 59 or int(hit[3] or 0) > 59:
        return None
    if "-" in bare and not _is_day(bare[:10]):
        return None
    return "clock", int(hit[1]) * 3600.0 + int(hit[2]) * 60.0 + int(hit[3] or 0)
