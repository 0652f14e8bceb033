"""Single values as a TOML file gives them, checked, each with its place for messages."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.vocabulary import unit

_MEASURE = re.compile(
    r"(?P<number>[+\-−]?\d+(?:\.\d+)?(?:[eE][+-]?\d{1,3})?)(?:\s+|(?=[^\d\s.]))(?P<unit>\S.*)"
)
_SHOWN = 80

Reader = Callable[[object, str], object]
"""A value and its place → the checked value."""


@dataclass(frozen=True)
class Table:
    """A TOML table with its place ("rigs.toml, nozzle.N25")."""

    values: Mapping[str, object]
    place: str

    def at(self, key: str) -> str:
        """The place of one of its values."""
        return f"{self.place}.{key}"

    def required(self, key: str) -> object:
        """A value that must be there.

        Raises
        ------
        BadInput : it isn't.
        """
        if key not in self.values:
            raise BadInput(f"key {key!r}", place=self.place, found="nothing", expected=f"{key} = …")
        return self.values[key]

    def put(self, fields: dict[str, object], name: str, key: str, read: Reader) -> None:
        """Read a value into a field, where the table has it."""
        if key in self.values:
            fields[name] = read(self.values[key], self.at(key))

    def check_keys(self, known: tuple[str, ...]) -> None:
        """Refuse a key that isn't known.

        Raises
        ------
        BadInput : names the known keys, and the nearest one.
        """
        for key in self.values:
            if key not in known:
                raise unknown_word(key, "key", known, self.place)


def unknown_word(word: str, thing: str, known: tuple[str, ...], place: str) -> BadInput:
    """The error for a word that isn't known, with the nearest known one."""
    near = difflib.get_close_matches(word, known, 1)
    hint = f"{near[0]!r}? Known: " if near else "one of "
    return BadInput(thing, place=place, found=shown(word), expected=hint + ", ".join(known))


def wrong(place: str, value: object, expected: str) -> BadInput:
    """The error for a value that can't be."""
    return BadInput("value", place=place, found=shown(value), expected=expected)


def shown(value: object) -> str:
    """A value as a message shows it, never long."""
    text = repr(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def parse_measure(value: object, dimension: str, place: str, *, difference: bool = False) -> float:
    """A number with its unit, in SI.

    Parameters
    ----------
    value : a text such as "12.003 mm".
    dimension : the dimension that the unit must have.
    place : for messages.
    difference : whether it is a difference or an uncertainty, so that the zero of °C plays no part.

    Raises
    ------
    BadInput : it isn't a text with a number and a unit.
    UnknownUnit : the unit is missing or unknown.
    Contradiction : the unit has another dimension.
    """
    hit = _MEASURE.fullmatch(value.strip()) if isinstance(value, str) else None
    if hit is None:
        bare = type(value) in {int, float} or (isinstance(value, str) and _is_number(value))
        example = "'12.003 mm'" if dimension == "length" else "'0.2 Pa'"
        expected = f"a number and a unit of {dimension} in quotation marks, such as {example}"
        raise (UnknownUnit if bare else BadInput)("value", place=place, found=shown(value), expected=expected)
    known = unit(hit["unit"], place=place)
    if known.dimension != dimension:
        raise Contradiction("unit", place=place, found=shown(value), expected=f"a unit of {dimension}")
    number = float(hit["number"].replace("−", "-")) * known.factor + (0.0 if difference else known.offset)
    if not math.isfinite(number):
        raise wrong(place, value, "a finite number")
    return number


def difference_of(dimension: str) -> Callable[[object, str], float]:
    """Reads a difference of a dimension, such as an offset."""
    return lambda value, place: parse_measure(value, dimension, place, difference=True)


def width_of(dimension: str) -> Callable[[object, str], float]:
    """Reads a width of a dimension, such as an uncertainty or a resolution: not negative."""

    def read(value: object, place: str) -> float:
        width = parse_measure(value, dimension, place, difference=True)
        if width < 0:
            raise wrong(place, value, "nothing negative")
        return width

    return read


def within(dimension: str, low: float, high: float) -> Reader:
    """Reads a number with its unit, in SI, that lies between two others."""

    def read(value: object, place: str) -> float:
        number = parse_measure(value, dimension, place)
        if not low <= number <= high:
            raise wrong(place, value, f"{_EXAMPLES.get(dimension, 'a number')} that can be meant")
        return number

    return read


_EXAMPLES = {
    "length": "a length such as '0.5 m'",
    "angle": "an angle such as '45 °'",
    "frequency": "a frequency such as '125 Hz'",
    "level": "a level such as '94 dB'",
    "power": "a power such as '300 W'",
    "flow": "a flow such as '1.5 l/min'",
    "time": "a time such as '6 min'",
}


def one_of(words: tuple[str, ...]) -> Reader:
    """Reads one of a few words."""

    def read(value: object, place: str) -> str:
        word = text(value, place).casefold()
        if word not in words:
            raise unknown_word(word, "value", words, place)
        return word

    return read


def whole(low: int, high: int) -> Reader:
    """Reads a whole number that lies between two others."""

    def read(value: object, place: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise wrong(place, value, f"a whole number from {low} to {high}")
        return value

    return read


_COOLANT = re.compile(r"(water)|glycol\s*(\d{1,2}(?:\.\d+)?)\s*%", re.IGNORECASE)
MOST_GLYCOL = 60.0
"""Greatest share of glycol in a loop [per cent by mass]: beyond it its properties aren't known here."""


def coolant(value: object, place: str) -> str:
    """A liquid as the house writes it: "water", or "glycol 30 %" (ethylene glycol, per cent by mass)."""
    hit = _COOLANT.fullmatch(text(value, place))
    if hit is None or float(hit[2] or 0.0) > MOST_GLYCOL:
        raise wrong(place, value, f"'water', or 'glycol 30 %' (by mass, at most {MOST_GLYCOL:g} %)")
    share = float(hit[2] or 0.0)
    return f"glycol {share:g} %" if share else "water"


def share(value: object, place: str) -> float:
    """A share as a plain number or in per cent, from 0 to 1."""
    number = parse_measure(value, "ratio", place) if isinstance(value, str) else plain_number(value, place)
    if not 0 <= number < 1:
        raise wrong(place, value, "a share such as 0.001 or '0.1 %'")
    return number


def gain(value: object, place: str) -> float:
    """A gain: a plain number near 1."""
    number = plain_number(value, place)
    if not 0.5 <= number <= 2:
        raise wrong(place, value, "a gain near 1, such as 1.002")
    return number


def length_ratio(value: object, place: str) -> float:
    """A nozzle's throat length over its bore: a plain number."""
    number = plain_number(value, place)
    if not 0.1 <= number <= 2:
        raise wrong(place, value, "a ratio such as 0.5 or 0.6")
    return number


def plain_number(value: object, place: str) -> float:
    """A finite number without a unit."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise wrong(place, value, "a plain number")
    try:
        number = float(value)
    except OverflowError:
        raise wrong(place, value, "a finite number") from None
    if not math.isfinite(number):
        raise wrong(place, value, "a finite number")
    return number


def text(value: object, place: str) -> str:
    """A text that isn't empty."""
    if not isinstance(value, str) or not value.strip():
        raise wrong(place, value, "a text in quotation marks")
    return value.strip()


def names(value: object, place: str) -> tuple[str, ...]:
    """A list of names, each once."""
    if not isinstance(value, list):
        raise wrong(place, value, 'a list such as ["N12", "N25"]')
    found = tuple(text(each, f"{place}[{number}]") for number, each in enumerate(value, 1))
    twice = next((name for name in found if found.count(name) > 1), "")
    if twice:
        raise Contradiction("names", place=place, found=f"{twice!r} twice", expected="each name once")
    return found


def date(value: object, place: str) -> str:
    """A date, as TOML writes it or as a text in ISO 8601; returned in ISO 8601."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value.strip(), re.ASCII):
        try:
            return dt.date.fromisoformat(value.strip()).isoformat()
        except ValueError:
            pass  # 30 February and the like: refused below
    raise wrong(place, value, "a date as year-month-day, such as 2026-03-01")


def _is_number(value: str) -> bool:
    try:
        return math.isfinite(float(value))
    except ValueError:
        return False
