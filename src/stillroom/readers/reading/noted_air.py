"""The air of a room as notes above a table tell it: "Barometer: 1009,3 hPa", "Temperature: 21.5 °C", "RH: 45 %".

A note is used where it states its unit and the table has no such column; else it is said why not.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.readers.reading.bounds import expected_words, first_outside
from stillroom.readers.words.headers import quantities_for, split_header
from stillroom.readers.words.numbers import parse_number, part_unit
from stillroom.vocabulary import BY_NAME, from_si, is_unit, to_si, unit

AIR = ("barometric_pressure", "temperature", "relative_humidity")

_NUMBER = re.compile(r"[+\-−]?\d+(?:[.,]\d+)?")
_PERHAPS_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")


@dataclass(frozen=True)
class NotedAir:
    """What a note tells of the air.

    Parameters
    ----------
    quantity : one of `AIR`. note : the line, as "key: value". value : [SI], None where it isn't used.
    why_not : why it isn't used, or "".
    """

    quantity: str
    note: str
    value: float | None
    why_not: str = ""

    @property
    def words(self) -> str:
        """How it is used, or why not."""
        known = BY_NAME[self.quantity]
        if self.value is None:
            return f"the note {self.note!r} is not used as the air of the run: {self.why_not}"
        shown = known.shown or known.unit
        return f"{known.label} {from_si(self.value, shown):g} {shown} at every reading, as the note {self.note!r} says"


def noted_air(notes: Mapping[str, str], columns: Collection[str]) -> tuple[NotedAir, ...]:
    """What notes tell of air that no column tells.

    Parameters
    ----------
    notes : the "key: value" lines above a table. columns : the quantities that its columns hold.
    """
    told: dict[str, list[NotedAir]] = {}
    for each in _notes(notes):
        if each.quantity not in columns:
            told.setdefault(each.quantity, []).append(each)
    return tuple(one for several in told.values() for one in _agreed(several))


def _agreed(several: list[NotedAir]) -> list[NotedAir]:
    """One quantity told in several notes counts once, and not at all where they differ."""
    values = {each.value for each in several if each.value is not None}
    if len(values) > 1:
        return [NotedAir(each.quantity, each.note, None, "another note says otherwise") for each in several]
    used = next((each for each in several if each.value is not None), None)
    return [used] if used else several


def _notes(notes: Mapping[str, str]) -> Iterator[NotedAir]:
    for key, text in notes.items():
        header = split_header(key)
        quantity = next((each.name for each in quantities_for(header.name) if each.name in AIR), "")
        if quantity and len(header.name) > 1:
            yield _one(quantity, f"{key}: {text}", text, header.unit)


def _one(quantity: str, note: str, text: str, in_key: str) -> NotedAir:
    number, words = part_unit(text)
    words = words or in_key
    if not _NUMBER.fullmatch(number.strip()):
        return NotedAir(quantity, note, None, "it is no number with a unit")
    if not is_unit(words) or unit(words).dimension != BY_NAME[quantity].dimension:
        found = f"{words!r} is no unit of it" if words else "it states no unit"
        return NotedAir(quantity, note, None, found)
    if _PERHAPS_THOUSANDS.fullmatch(number.strip()):
        return NotedAir(quantity, note, None, "its mark can be one of decimals or of thousands")
    value = to_si(parse_number(number, "," if "," in number else "."), unit(words).symbol)
    if first_outside(quantity, np.array([value])) >= 0:
        return NotedAir(quantity, note, None, f"it has to be {expected_words(quantity, unit(words).symbol)}")
    return NotedAir(quantity, note, value)
