"""Words for the channels of a heat rig's loggers that elsewhere mean something else, or nothing."""

from __future__ import annotations

import re

from stillroom.readers.words.headers import squeeze
from stillroom.vocabulary import AIR_PROBES, BY_NAME, air_probe

_WORDS: dict[str, tuple[str, ...]] = {
    "speed": ("fan rpm", "rpm fan", "n fan", "fan tach", "fan tacho", "tach 1", "tacho 1", "lüfterdrehzahl",
              "drehzahl lüfter", "vitesse ventilateur"),
    "duty": ("fan duty", "fan pwm", "pwm fan", "pwm out", "lüfter pwm", "pwm ventilateur"),
    "voltage": ("fan volts", "u fan", "v fan", "fan supply", "lüfterspannung", "u lüfter", "tension ventilateur"),
    "current": ("fan current", "fan amps", "i fan", "lüfterstrom", "strom lüfter", "i lüfter", "courant ventilateur"),
    "power": ("fan power", "fan watts", "p fan", "lüfterleistung", "leistung lüfter", "p lüfter",
              "puissance ventilateur"),
    "temperature": ("room temperature", "room", "t room", "lab temperature", "raumtemperatur", "t raum", "raum",
                    "température de la pièce"),
    "barometric_pressure": ("atmospheric pressure", "atm pressure", "air pressure", "p amb", "p atm",
                            "station pressure", "umgebungsdruck", "pression atmosphérique", "pression ambiante"),
    "liquid_flow": ("flow", "flow rate", "volume flow", "pump flow", "flow meter", "q", "ql", "débit", "volumenstrom"),
    "hot_temperature": ("hot 1", "probe hot", "th", "t h", "t1 hot", "heisser block", "heißer block"),
}  # fmt: skip
"""{quantity: words}, read only in a log of a heat rig: "flow" is the liquid's there, "air" the air before the radiator.
"""

_OF_HEATER = {"voltage": "heater_voltage", "current": "heater_current", "power": "heater_power"}
_HEATERS = frozenset(
    squeeze(word)
    for word in (
        "heater",
        "heating",
        "load",
        "heat load",
        "heizung",
        "heizer",
        "chauffage",
        "résistance chauffante",
    )
)

_BY_WORD = {squeeze(word): name for name, words in _WORDS.items() for word in words}
_AIR = frozenset(squeeze(word) for word in BY_NAME[air_probe(1)].aliases if not word.endswith(" 1"))
_NUMBERED = re.compile(r"(.*?[^\d])\s*(\d{1,2})", re.DOTALL)


def log_word(name: str) -> str:
    """The quantity that a header's words (without the unit) name in a log of a heat rig; "" where they name none
    that they don't name elsewhere.
    """
    if air_number(name) >= 0:
        return air_probe(1)
    return _BY_WORD.get(squeeze(name), "")


def heater_word(name: str, dimension: str) -> str:
    """What a column of the heater holds by its unit: its voltage in V, its current in A, its power in W; "" where its
    words name no heater, or its unit is of anything else.
    """
    return _OF_HEATER.get(dimension, "") if squeeze(name) in _HEATERS else ""


def air_number(name: str) -> int:
    """The number that a header gives to a probe of the air before the radiator; 0 without one, -1 where it names none.

    The number is as it stands there: some loggers count from 0.
    """
    word = squeeze(name)
    if word in _AIR:
        return 0
    hit = _NUMBERED.fullmatch(word)
    return int(hit[2]) if hit and hit[1] in _AIR else -1


def free_probe(number: int, taken: set[str]) -> str:
    """The name of the air probe of a number, or the next that is free; "" where there is none left."""
    order = [number, *range(1, AIR_PROBES + 1)] if 1 <= number <= AIR_PROBES else range(1, AIR_PROBES + 1)
    return next((name for each in order if (name := air_probe(each)) not in taken), "")
