"""Words in names of files that say what was logged, or nothing: they name neither a fan nor an obstacle."""

from __future__ import annotations

import re

_LOGGED = frozenset(
    {
        *(
            "temps",
            "temp",
            "temperature",
            "temperatures",
            "thermo",
            "probe",
            "probes",
            "hot",
            "heat",
            "heater",
        ),
        *(
            "heating",
            "speed",
            "speeds",
            "rpm",
            "tach",
            "tacho",
            "air",
            "room",
            "drive",
            "pwm",
            "duty",
            "power",
        ),
        *("coolant", "liquid", "water", "pump", "response", "start", "starts", "inrush", "control"),
        *("log", "logs", "logger", "logged", "logging", "all", "data", "export", "exports", "readings"),
        *("temperaturen", "heizung", "drehzahl", "luft", "raum", "protokoll", "alle", "alles", "daten"),
        *("températures", "chauffage", "vitesse", "journal", "tout", "données"),
    }
)
_BESIDE = frozenset({"fan", "fans", "rig", "in", "out", "and", "of"})
_PARTS = re.compile(r"[\W\d_]+")


def says_what_was_logged(text: str) -> bool:
    """Whether a part of a name ("temps", "heater log", "fan speed 2") only says what was logged."""
    words = [each for each in _PARTS.split(text.casefold()) if each]
    return any(each in _LOGGED for each in words) and all(each in _LOGGED | _BESIDE for each in words)
