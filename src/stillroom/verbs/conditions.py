"""The options that say under what fans are asked: setting, system and air."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from stillroom.core.systems import System
from stillroom.errors import BadInput
from stillroom.measures import Condition
from stillroom.verbs.doors import quantity
from stillroom.vocabulary import is_unit, unit

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_NOISE = re.compile(rf"\s*({_NUMBER})\s*(.*?)\s*")
_FACTOR = re.compile(rf"\s*({_NUMBER})\s*(?:(?:±|\+-|\+/-)\s*({_NUMBER}))?\s*")
_ALTITUDE = re.compile(rf"\s*([-−]?{_NUMBER})\s*(m|ft)?\s*")
FOOT = 0.3048


@dataclass(frozen=True)
class Conditions:
    """Setting, system and air under which fans are asked, as somebody writes them.

    Parameters
    ----------
    speed : a given speed, such as 1500 or '1500 rpm'; at full setting where none is given.
    duty : a given PWM duty, such as 40 or '40 %', with the speed as measured, or interpolated between duties.
    volts : a given supply voltage, such as 7 or '7 V', likewise.
    noise : a noise limit that sets the speed, such as 35 or '35 dBA', or '1.5 sone', at the distance of lab.toml;
        charts of several limits take one --noise for each.
    for_flow : an airflow that sets the speed, such as '60 m³/h', for the measures level, loudness and needed-speed.
    for_heat : a temperature rise at nominal power that sets the speed, such as '12 K', for the same measures.
    rig : the heat rig whose runs are meant, or whose checks control draws, where there are several.
    beside : so many equal fans side by side: flows add.
    tiles : the obstacle has so many times the area of the piece that was measured.
    push_pull : two fans behind each other give 2 × FACTOR times the pressure; such as 0.85 or '0.85 ± 0.05'.
    altitude : of the room, such as '1600 m': density by the standard atmosphere, at the same speed.
    air : temperature of the room's air, such as '30 °C'; 20 °C where none is given.
    """

    speed: str = ""
    duty: str = ""
    volts: str = ""
    noise: tuple[str, ...] = ()
    for_flow: str = ""
    for_heat: str = ""
    rig: str = ""
    beside: int = 1
    tiles: float = 1.0
    push_pull: str = ""
    altitude: str = ""
    air: str = ""

    def through(self, obstacle: str = "") -> Condition:
        """The same in SI, with what the air goes through.

        Raises
        ------
        BadInput : a field that isn't what it should be, or several noise limits.
        Contradiction : two of speed, duty, volts, noise, airflow and temperature rise.
        """
        if len(self.noise) > 1:
            raise BadInput(
                "--noise",
                found=", ".join(self.noise),
                expected="one limit; several with `chart multiples` or `cards`",
            )
        factor, u = _factor(self.push_pull)
        temperature = quantity(self.air, "--air", "temperature", "°C")
        return Condition(
            quantity(self.speed, "--speed", "speed", "rpm"),
            obstacle.strip(),
            quantity(self.duty, "--duty", "ratio", "%"),
            quantity(self.volts, "--volts", "voltage", "V"),
            System(self.beside, self.tiles, factor, u, _altitude(self.altitude), temperature),
            *noise_limit(self.noise[0] if self.noise else ""),
            quantity(self.for_flow, "--for-flow", "flow", "m³/h"),
            _rise(self.for_heat),
            self.rig.strip(),
        )

    def at_each_limit(self) -> tuple[Conditions, ...]:
        """The same at each of its noise limits; itself where there is none."""
        return tuple(replace(self, noise=(each,)) for each in self.noise) or (self,)


USUAL = Conditions()
"""Full setting, one fan, the piece as measured, in air of 1.2 kg/m³."""


LOUDEST = 140.0
"""Above which no noise limit lies [dB(A)], and no loudness [sone]: neither is asked of a fan."""


def noise_limit(text: str) -> tuple[float | None, float | None]:
    """A noise limit as somebody writes it: (dB(A), None), or (None, sone).

    Raises
    ------
    BadInput : neither a level in dBA nor a loudness in sone.
    """
    if not text:
        return None, None
    hit = _NOISE.fullmatch(text)
    symbol = unit(hit[2] or "dBA").symbol if hit and is_unit(hit[2] or "dBA") else ""
    value = float(hit[1].replace(",", ".")) if hit else 0.0
    if symbol not in ("dBA", "dB", "sone") or not 0.0 < value < LOUDEST:
        raise BadInput(
            "--noise",
            found=repr(text),
            expected="a limit such as 35, '35 dBA' or '1.5 sone'; it holds at the distance that lab.toml sets",
        )
    return (None, value) if symbol == "sone" else (value, None)


def _rise(text: str) -> float | None:
    """A temperature rise [K]; another unit is refused: 12 °C is a temperature, not a rise."""
    symbol = text.strip(" 0123456789.,") or "K"
    if not is_unit(symbol) or unit(symbol).symbol != "K":
        raise BadInput(
            "--for-heat", found=repr(text), expected="a temperature rise over the air, such as '12 K'"
        )
    return quantity(text, "--for-heat", "temperature", "K")


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
