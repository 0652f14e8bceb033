"""The setting that a line of words tells: "Duty: 60 %", "PWM=60%", "Supply 7 V", "n = 1500 rpm", "[Sweep 60 %]".

Only lines that consist of known words, a number and a unit tell one; a humidity of 60 % is no duty.
"""

from __future__ import annotations

import re

from stillroom.readers.words.headers import split_header
from stillroom.readers.words.numbers import parse_number
from stillroom.vocabulary import is_unit, plain, to_si, unit

DUTY, VOLTAGE, SPEED = "duty", "voltage", "speed"

_WORDS: dict[str, frozenset[str]] = {
    DUTY: frozenset({"duty", "pwm", "cycle", "control", "signal", "tastgrad", "tastverhältnis", "rapport",
                     "cyclique"}),
    VOLTAGE: frozenset({"voltage", "supply", "u", "volts", "fan", "spannung", "versorgung",
                        "versorgungsspannung", "tension"}),
    SPEED: frozenset({"n", "speed", "rpm", "fan", "rotational", "drehzahl", "solldrehzahl", "soll",
                      "vitesse"}),
}  # fmt: skip
_GENERAL = frozenset(
    {"setting", "set", "setpoint", "point", "target", "sweep", "run", "step", "series", "curve", "test", "block",
     "stufe", "kennlinie", "messreihe", "lauf", "einstellung", "sollwert", "essai", "série", "at", "bei", "à",
     "no", "nr", "@", "up", "down", "rising", "falling", "auf", "ab"}
)  # fmt: skip
_BY_DIMENSION = {"ratio": DUTY, "voltage": VOLTAGE, "speed": SPEED}
_LINE = re.compile(
    r"(?P<words>[^\d=:]*?(?:\s\d{1,3}(?=\s*[:,=]))?)\s*[:=]?\s*(?P<number>[+\-]?\d+(?:[.,]\d+)?)\s*(?P<rest>[^\d\s].*)"
)
_SUPPLY, _SUPPLY_WIDTH = 12.0, 0.05
_LONGEST = 120
_ORNAMENT = " \t*-=#~"
_BRACKETS = str.maketrans("[]()<>{}", " " * 8)
_PARTS = re.compile(r"[;|]|,\s+|\s/\s")


def setting_of(text: str) -> dict[str, float]:
    """The setting that a line tells, in SI: {"duty": 0.6}, {"voltage": 7.0} or {"speed": 25.0}; else {}.

    Parameters
    ----------
    text : a title or a "key: value" line. Of a duty and a voltage in one line the duty is the setting,
        unless it is 100 %.
    """
    if len(text) > _LONGEST:
        return {}
    found: dict[str, float] = {}
    for part in _PARTS.split(text.translate(_BRACKETS)):
        bare = part.strip(_ORNAMENT)
        if all(_is_general(word) for word in plain(bare).split()):
            continue
        one = _one(bare)
        if one is None or one[0] in found:
            return {}
        found[one[0]] = one[1]
    return chosen(found)


def chosen(found: dict[str, float]) -> dict[str, float]:
    """Of what is told the one that is the setting: the duty; at 100 % a voltage under the usual; the speed."""
    reduced = found.get(DUTY, 1.0) == 1 and VOLTAGE in found and not is_usual(found[VOLTAGE])
    order = (VOLTAGE, SPEED) if reduced else (DUTY, SPEED, VOLTAGE)
    return next(({name: found[name]} for name in order if name in found), {})


def is_usual(voltage: float) -> bool:
    """Whether a voltage [V] is the usual supply, at which something else is the setting: 12 V within 5 %.

    Source: the specification of fans with a PWM wire (12 V ± 5 %).
    """
    return abs(voltage - _SUPPLY) <= _SUPPLY_WIDTH * _SUPPLY


def setting_of_note(key: str, value: str) -> dict[str, float]:
    """The setting that a note tells; the unit may stand in the key ("Duty [%]" with 60)."""
    header = split_header(key)
    if header.unit and is_unit(header.unit):
        return setting_of(f"{header.name}: {value} {header.unit}")
    return setting_of(f"{key}: {value}")


def _one(text: str) -> tuple[str, float] | None:
    hit = _LINE.fullmatch(text)
    if hit is None:
        return None
    rest = hit["rest"].split()
    length = next((n for n in range(len(rest), 0, -1) if is_unit(" ".join(rest[:n]))), 0)
    if not length:
        return None
    known = unit(" ".join(rest[:length]))
    name = _BY_DIMENSION.get(known.dimension, "")
    words = plain(" ".join((hit["words"], *rest[length:]))).split()
    fit = all(_is_general(word) or word in _WORDS[name] for word in words) if name else False
    if not fit or known.symbol == "1" or words == ["fan"] or (name == DUTY and not words):
        return None  # 60 % alone may be a throttle's
    value = to_si(parse_number(hit["number"], "," if "," in hit["number"] else "."), known.symbol)
    if value < 0 or (name == DUTY and value > 1):
        return None
    return name, value


def _is_general(word: str) -> bool:
    return word in _GENERAL or (word.isdigit() and len(word) < 4)
