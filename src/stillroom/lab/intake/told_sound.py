"""What is told of runs of sound beside the setting: numbers in their units, channels, what was recorded."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.errors import BadInput, Contradiction
from stillroom.readers.words.recordings import recorded
from stillroom.vocabulary import is_unit, to_si, unit


@dataclass(frozen=True)
class Told:
    """A number that is told of a run of sound: its usual unit, and the least and greatest that are believed [SI]."""

    unit: str
    low: float
    high: float
    example: str


NUMBERS: dict[str, Told] = {
    "calibrator": Told("dB", 70.0, 130.0, "94 or 114"),
    "tachometer": Told("rpm", 0.0, 1000.0, "1200"),
    "optical": Told("rpm", 0.0, 1000.0, "1200"),
    "speed_from": Told("rpm", 0.0, 1000.0, "500"),
    "speed_to": Told("rpm", 0.0, 1000.0, "2000"),
    "distance": Told("m", 0.02, 20.0, "0.5, or 50 cm"),
    "angle": Told("°", -math.pi, math.pi, "45"),
    "height": Told("m", 0.0, 20.0, "1.2, or 120 cm"),
}
"""Common practice of measuring rooms for small fans."""

MOST_CHANNELS = 64
SIDES = ("inlet", "outlet", "beside")
"""On which side of the fan the microphone can stand."""

TEXTS = ("microphone", "session", "microphone_side", "holder")
FIELDS = ("recording", "channel", *NUMBERS, *TEXTS)
"""All that can be told of a run of sound, as `Run` names it."""

_NUMBER = re.compile(r"(?P<number>[+\-−]?\d+(?:[.,]\d+)?)\s*(?P<unit>\D.*)?", re.ASCII)


def sound_in_si(name: str, text: str, place: str) -> str:
    """What was told of a run of sound, as it is kept: numbers in SI as text, the recording in its one word.

    Parameters
    ----------
    name : one of `FIELDS`. text : as it was told. place : by whom, for messages.

    Raises
    ------
    BadInput, Contradiction : it is nothing that can be meant; says what would be right.
    """
    return _READERS.get(name, _text)(name, text.strip(), place)


def _text(_name: str, text: str, _place: str) -> str:
    return text


def _recording(_name: str, text: str, place: str) -> str:
    return recorded(text, place).value


def _side(name: str, text: str, place: str) -> str:
    check_sound(name, text.casefold(), place, text)
    return text.casefold()


def _channel(name: str, text: str, place: str) -> str:
    if not re.fullmatch(r"\d{1,3}", text, re.ASCII):
        raise BadInput(name, place=place, found=repr(text), expected="a number from 1, such as 1")
    check_sound(name, int(text), place, text)
    return str(int(text))


def _number(name: str, text: str, place: str) -> str:
    told = NUMBERS[name]
    hit = _NUMBER.fullmatch(text)
    if hit is None:
        raise BadInput(name, place=place, found=repr(text), expected=f"a number, such as {told.example}")
    words = (hit["unit"] or "").strip() or told.unit
    if not is_unit(words) or unit(words).dimension != unit(told.unit).dimension:
        raise Contradiction(
            f"unit of {name}", place=place, found=repr(text), expected=f"{told.unit}, such as {told.example}"
        )
    value = to_si(float(hit["number"].replace(",", ".").replace("−", "-")), words)
    check_sound(name, value, place, text)
    return repr(value)


_READERS: Mapping[str, Callable[[str, str, str], str]] = {
    "recording": _recording,
    "channel": _channel,
    "microphone_side": _side,
    **dict.fromkeys(NUMBERS, _number),
}


def check_sound(name: str, value: Any, place: str, text: str) -> None:
    """Refuse what nobody can mean of a run of sound.

    Parameters
    ----------
    name : one of `FIELDS`. value : as a record holds it [SI]. place : who told it. text : as it was told.

    Raises
    ------
    BadInput : names what would be right.
    """
    if name == "recording":
        recorded(value, place)
    elif name == "channel" and not 1 <= value <= MOST_CHANNELS:
        raise BadInput(name, place=place, found=repr(text), expected=f"1 to {MOST_CHANNELS}")
    elif name == "microphone_side" and value.casefold() not in SIDES:
        raise BadInput("microphone side", place=place, found=repr(text), expected=", ".join(SIDES))
    elif name in NUMBERS:
        told = NUMBERS[name]
        if not (math.isfinite(value) and told.low <= value <= told.high):
            low, high = (f"{each / unit(told.unit).factor:g}" for each in (told.low, told.high))
            expected = f"{low} to {high} {told.unit}, such as {told.example}"
            raise BadInput(name, place=place, found=repr(text), expected=expected)


def sound_words(name: str, value: str) -> str:
    """What was told of a run of sound as people write it, from how it is kept."""
    if name not in NUMBERS:
        return value
    symbol = NUMBERS[name].unit
    return f"{float(value) / unit(symbol).factor:g} {symbol}".replace(" °", "°")
