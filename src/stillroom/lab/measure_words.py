"""A measure with its condition in one line of words: "airflow through rad27 at 35 dBA"."""

from __future__ import annotations

import difflib
import re
from dataclasses import replace
from typing import Any

from stillroom.errors import BadInput
from stillroom.lab.field import Asked
from stillroom.measures import MEASURES, Condition, Measure, as_asked, measure_named
from stillroom.vocabulary import from_si, to_si

NUMBER = r"[0-9]{1,9}(?:[.,][0-9]{1,9})?"

_NAMES: dict[str, str] = {
    words.casefold(): each.name
    for each in MEASURES
    for words in (as_asked(each, Condition(for_heat=1.0)).title, each.title, each.name)
}
"""{a measure's title or name without case: its name}."""

_TITLES = "|".join(map(re.escape, sorted(_NAMES, key=len, reverse=True)))

_LINE = re.compile(
    rf"(?P<measure>(?i:{_TITLES})|[\w-]+)"
    rf"(?:\s+through\s+(?P<through>.+?))?"
    rf"(?:\s+at\s+(?:full (?:speed|setting)|(?P<at>{NUMBER})\s*(?P<at_unit>dBA|dB\(A\)|sone|rpm|%|V)))?"
    rf"(?:\s+for\s+(?P<need>{NUMBER})\s*(?P<need_unit>m³/h|m3/h|CFM|cfm|l/s|K))?"
    rf"(?:\s+on\s+(?P<rig>\S.*?))?"
)

EXPECTED = "a line such as 'airflow through rad27 at 35 dBA', 'heat at 30 dBA' or 'start-duty'"

SETTINGS = {"dBA": "noise", "dB(A)": "noise", "sone": "sone", "rpm": "speed", "%": "duty", "V": "volts"}
"""Which field of a condition each unit of a setting means."""

_SHOWN = {"noise": "dBA", "sone": "sone", "speed": "rpm", "duty": "%", "volts": "V"}
"""The unit in which each is written."""


def asked_from(text: str, place: str = "") -> Asked:
    """What a line of words asks for.

    Parameters
    ----------
    text : MEASURE, by its name or its title in any capitals, and as wanted "through OBSTACLE", "at SETTING" (dBA, sone,
        rpm, % or V; else full speed), "for" an airflow or a temperature rise that sets the speed, "on RIG".
    place : where it stands, for errors.

    Raises
    ------
    BadInput : the line can't be understood; a measure that is nearly named is proposed.
    UnknownThing : a measure that there isn't.
    """
    plain = " ".join(text.split())
    hit = _LINE.fullmatch(plain)
    if hit is None:
        expected = EXPECTED + _nearest(plain)
        raise BadInput("measure to publish", place=place, found=repr(text), expected=expected)
    told: dict[str, Any] = {}
    if hit["at"]:
        told[SETTINGS[hit["at_unit"]]] = _si(hit["at"], hit["at_unit"])
    if hit["need"]:
        name = "for_heat" if hit["need_unit"] == "K" else "for_flow"
        told[name] = (
            _value(hit["need"]) if name == "for_heat" else to_si(_value(hit["need"]), hit["need_unit"])
        )
    condition = replace(Condition(obstacle=hit["through"] or "", rig=hit["rig"] or ""), **told)
    return Asked(as_asked(_measure(hit["measure"]), condition), condition)


def measure_alone(text: str) -> Measure | None:
    """The measure that some words name without any condition, by its name or title; None where they don't."""
    name = _NAMES.get(" ".join(text.split()).casefold())
    return measure_named(name) if name else None


def _measure(words: str) -> Measure:
    return measure_alone(words) or measure_named(words)


_CONDITION = re.compile(r"\s+(?:through|at|for|on)\s")


def _nearest(plain: str) -> str:
    """The measure that a line nearly names, as an error goes on; "" where it names one, or none is near."""
    head = _CONDITION.split(plain)[0].casefold()
    close = [] if head in _NAMES else difflib.get_close_matches(head, _NAMES, n=1)
    return f"; the nearest measure is {_NAMES[close[0]]}" if close else ""


def _value(text: str) -> float:
    return float(text.replace(",", "."))


def _si(text: str, unit: str) -> float:
    """A setting in the unit of its field: SI, but levels in dB(A) and loudness in sone."""
    return _value(text) if SETTINGS[unit] in ("noise", "sone") else to_si(_value(text), unit)


def words_of(asked: Asked) -> str:
    """The line that asks for it; a system of several fans and its air aren't part of such a line."""
    condition = asked.condition
    parts = [asked.measure.name]
    parts += [f"through {condition.obstacle}"] if condition.obstacle else []
    for name, unit in _SHOWN.items():
        value: float | None = getattr(condition, name)
        if value is not None:
            shown = value if name in ("noise", "sone") else from_si(value, unit)
            parts.append(f"at {round(shown, 6):g} {unit}")
    if condition.for_flow is not None:
        parts.append(f"for {round(from_si(condition.for_flow, 'm³/h'), 6):g} m³/h")
    if condition.for_heat is not None:
        parts.append(f"for {condition.for_heat:g} K")
    parts += [f"on {condition.rig}"] if condition.rig else []
    return " ".join(parts)
