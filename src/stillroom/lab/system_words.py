"""A system of fans as it stands among the conditions of an answer, and all conditions in one line."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom.core.systems import System

Plain = str | int | float | bool | None
Conditions = Mapping[str, Plain]

BESIDE, TILES, FACTOR, FACTOR_LIMITS = (
    "fans side by side",
    "tiles",
    "push–pull factor",
    "push–pull factor ±",
)
ALTITUDE, TEMPERATURE = "altitude", "air temperature"


def system_told(system: System) -> dict[str, Plain]:
    """What was told of a system, as it stands among the conditions; what was not told is None."""
    tiles = int(system.tiles) if float(system.tiles).is_integer() else system.tiles
    return {
        BESIDE: system.beside if system.beside > 1 else None,
        TILES: tiles if system.tiles != 1.0 else None,
        FACTOR: system.push_pull,
        FACTOR_LIMITS: system.push_pull_limits or None,
        ALTITUDE: None if system.altitude is None else f"{system.altitude:.0f} m",
        TEMPERATURE: None if system.temperature is None else f"{system.temperature - 273.15:.1f} °C",
    }


def conditions_line(told: Conditions) -> str:
    """All conditions in one line, those that were told."""
    shown = {name: value for name, value in told.items() if value and name != FACTOR_LIMITS}
    if told.get(FACTOR):
        shown[FACTOR] = factor_words(told)
    return "Conditions: " + ", ".join(f"{name} {value}" for name, value in shown.items())


def factor_words(told: Conditions) -> str:
    """The push–pull factor as it was stated: "0.85 ± 0.05"."""
    limits = told.get(FACTOR_LIMITS)
    return f"{told[FACTOR]:g}" + (f" ± {limits:g}" if limits else "")
