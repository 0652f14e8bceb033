"""The options that say under what fans are asked: obstacle, setting, system and air."""

from __future__ import annotations

import re

from stillroom.core.systems import System
from stillroom.errors import BadInput
from stillroom.measures import Condition
from stillroom.verbs.doors import quantity

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_FACTOR = re.compile(rf"\s*({_NUMBER})\s*(?:(?:±|\+-|\+/-)\s*({_NUMBER}))?\s*")
_ALTITUDE = re.compile(rf"\s*([-−]?{_NUMBER})\s*(m|ft)?\s*")
FOOT = 0.3048


def condition_of(
    through: str = "",
    speed: str = "",
    *,
    duty: str = "",
    volts: str = "",
    beside: int = 1,
    tiles: float = 1.0,
    push_pull: str = "",
    altitude: str = "",
    air: str = "",
) -> Condition:
    """The condition that the options tell.

    Raises
    ------
    BadInput : an option that isn't what it should be. Contradiction : two of speed, duty and volts.
    """
    factor, u = _factor(push_pull)
    system = System(
        beside, tiles, factor, u, _altitude(altitude), quantity(air, "--air", "temperature", "°C")
    )
    return Condition(
        quantity(speed, "--speed", "speed", "rpm"),
        through.strip(),
        quantity(duty, "--duty", "ratio", "%"),
        quantity(volts, "--volts", "voltage", "V"),
        system,
    )


def _factor(text: str) -> tuple[float | None, float]:
    """The push-pull factor and its standard uncertainty: limits ± without a distribution are rectangular
    (JCGM 100:2008, 4.3.7).
    """
    if not text:
        return None, 0.0
    hit = _FACTOR.fullmatch(text)
    if not hit:
        raise BadInput("--push-pull", found=repr(text), expected="a factor such as 0.85 or '0.85 ± 0.05'")
    limits = float(hit.group(2).replace(",", ".")) if hit.group(2) else 0.0
    return float(hit.group(1).replace(",", ".")), limits / 3.0**0.5


def _altitude(text: str) -> float | None:
    if not text:
        return None
    hit = _ALTITUDE.fullmatch(text)
    if not hit:
        raise BadInput(
            "--altitude", found=repr(text), expected="metres above the sea, such as 1600 or '1600 m'"
        )
    return float(hit.group(1).replace("−", "-").replace(",", ".")) * (FOOT if hit.group(2) == "ft" else 1.0)
