"""Units: each with its factor to SI, and the words by which exports write it.

Unit factors: NIST SP 811 (2008), Appendix B (conventional water column 9.80665 Pa/mm); the cubic foot
follows exactly from 1 ft = 0.3048 m.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from stillroom.errors import UnknownUnit

_LONGEST_UNIT = 64


@dataclass(frozen=True)
class Unit:
    """One unit: `SI = value · factor + offset`.

    `dimension` is the name shared by units that can be turned into each other.
    """

    symbol: str
    dimension: str
    factor: float
    offset: float = 0.0
    aliases: tuple[str, ...] = ()


CUBIC_FOOT = 0.3048**3
MMH2O = 9.80665

UNITS: tuple[Unit, ...] = (
    Unit("m³/s", "flow", 1.0, aliases=("m3/s", "cms", "m^3/s", "m³s⁻¹")),
    Unit(
        "m³/h",
        "flow",
        1 / 3600,
        aliases=("m3/h", "m³/hr", "m3/hr", "cmh", "cbm/h", "m^3/h", "m³h⁻¹", "m^3h^-1"),
    ),
    Unit("m³/min", "flow", 1 / 60, aliases=("m3/min", "m^3/min", "cmm")),
    Unit("l/s", "flow", 1e-3, aliases=("L/s", "dm³/s", "dm3/s")),
    Unit("l/min", "flow", 1e-3 / 60, aliases=("L/min", "lpm")),
    Unit("l/h", "flow", 1e-3 / 3600, aliases=("L/h", "lph", "l/hr")),
    Unit("ml/min", "flow", 1e-6 / 60, aliases=("mL/min", "cc/min", "cm³/min", "cm3/min")),
    Unit("CFM", "flow", CUBIC_FOOT / 60, aliases=("cfm", "ft³/min", "ft3/min", "ft^3/min", "cu ft/min")),
    Unit("Pa", "pressure", 1.0, aliases=("pascal",)),
    Unit("hPa", "pressure", 100.0, aliases=("mbar", "mb")),
    Unit("kPa", "pressure", 1000.0),
    Unit("bar", "pressure", 1e5),
    Unit(
        "mmH₂O",
        "pressure",
        MMH2O,
        aliases=("mmH2O", "mmAq", "mm H2O", "mmWC", "mmWS", "mm wg", "mmwg", "mm w.g.", "mmCE"),
    ),
    Unit(
        "inH₂O",
        "pressure",
        MMH2O * 25.4,
        aliases=(
            "inH2O",
            "inAq",
            "in H2O",
            "inwg",
            "in wg",
            "inWC",
            "in.w.g.",
            "in. w.g.",
            "in.wc",
            "iwg",
            "iwc",
        ),
    ),
    Unit("inHg", "pressure", 3386.389),
    Unit("mmHg", "pressure", 133.3224, aliases=("torr",)),
    Unit(
        "rpm",
        "speed",
        1 / 60,
        aliases=("1/min", "min-1", "min⁻¹", "r/min", "rev/min", "U/min", "min^-1", "tr/min"),
    ),
    Unit("1/s", "speed", 1.0, aliases=("r/s", "rev/s", "s-1", "s⁻¹", "s^-1", "rps")),
    Unit("K", "temperature", 1.0, aliases=("kelvin",)),
    Unit("°C", "temperature", 1.0, 273.15, aliases=("degC", "deg C", "C", "Cel", "celsius")),
    Unit("°F", "temperature", 5 / 9, 273.15 - 32 * 5 / 9, aliases=("degF", "deg F", "F")),
    Unit("1", "ratio", 1.0, aliases=("-",)),
    Unit("%", "ratio", 0.01, aliases=("%RH", "% RH", "%rh", "%rF", "percent", "pct")),
    Unit("V", "voltage", 1.0, aliases=("volt", "VDC", "V DC")),
    Unit("mV", "voltage", 1e-3),
    Unit("A", "current", 1.0, aliases=("amp", "ADC")),
    Unit("mA", "current", 1e-3),
    Unit("W", "power", 1.0, aliases=("watt", "watts")),
    Unit("kW", "power", 1000.0),
    Unit("m", "length", 1.0),
    Unit("mm", "length", 1e-3),
    Unit("cm", "length", 1e-2),
    Unit("in", "length", 0.0254, aliases=("inch",)),
    Unit("s", "time", 1.0, aliases=("sec",)),
    Unit("ms", "time", 1e-3, aliases=("msec",)),
    Unit("min", "time", 60.0),
    Unit("h", "time", 3600.0, aliases=("hr",)),
    Unit("d", "time", 86400.0, aliases=("day", "days")),
    Unit("Hz", "frequency", 1.0, aliases=("hertz",)),
    Unit("kHz", "frequency", 1000.0),
    Unit("dB", "level", 1.0, aliases=("decibel", "dB SPL", "dB re 20 µPa", "dB re 20 uPa")),
    Unit("dBA", "level", 1.0, aliases=("dB(A)", "dB A", "dB[A]", "dB-A", "db (a)")),
    Unit("dBC", "level", 1.0, aliases=("dB(C)", "dB C", "dB-C")),
    Unit("dBZ", "level", 1.0, aliases=("dB(Z)", "dB Z", "dB-Z", "dB(lin)", "dB lin", "dB(F)")),
    Unit("sone", "loudness", 1.0, aliases=("sones", "sone GF", "soneGF")),
    Unit("phon", "loudness level", 1.0, aliases=("phons", "phon GF")),
    Unit("acum", "sharpness", 1.0),
    Unit("rad", "angle", 1.0, aliases=("radian",)),
    Unit("°", "angle", math.pi / 180, aliases=("deg", "degree", "degrees", "grad")),
    Unit("W/K", "conductance", 1.0),
    Unit("kg/m³", "density", 1.0, aliases=("kg/m3", "kg/m^3", "kgm⁻³")),
    Unit("Pa/(m³/s)", "linear resistance", 1.0),
    Unit("Pa/(m³/s)²", "quadratic resistance", 1.0),
    Unit("K/W", "thermal resistance", 1.0, aliases=("°C/W",)),
)


_DERIVED = frozenset({"linear resistance", "quadratic resistance", "conductance", "thermal resistance"})
"""Dimensions of results, in whose units no bench exports anything."""


def _unit_key(text: str) -> str:
    """A unit's word for comparison; a text too long for a unit is left as it is."""
    return _folded_unit(text) if len(text) <= _LONGEST_UNIT else text


@lru_cache(maxsize=1024)
def _folded_unit(text: str) -> str:
    """Units are told apart by case only where case matters (mW/MW is not here; 'Pa' is not 'PA')."""
    folded = unicodedata.normalize("NFKC", text).strip().casefold()
    return folded.replace("·", "").replace(" ", "").replace("°", "deg").replace("º", "deg").replace("−", "-")


def _unit_table() -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for each in UNITS:
        for word in (each.symbol, *each.aliases):
            table.setdefault(_unit_key(word), each)
    return table


_UNIT_TABLE = _unit_table()


def unit(text: str, *, place: str = "") -> Unit:
    """The unit that a word stands for.

    Raises
    ------
    UnknownUnit : the word is not in the vocabulary.
    """
    found = _UNIT_TABLE.get(_unit_key(text))
    if found is None:
        raise UnknownUnit(
            "unit",
            place=place,
            found=repr(text),
            expected="one of " + ", ".join(each.symbol for each in UNITS if each.dimension not in _DERIVED),
        )
    return found


def is_unit(text: str) -> bool:
    """Whether a word stands for a unit."""
    return _unit_key(text) in _UNIT_TABLE


def to_si(value: float, symbol: str, *, place: str = "") -> float:
    """A value in the unit `symbol`, in SI."""
    known = unit(symbol, place=place)
    return value * known.factor + known.offset


def from_si(value: float, symbol: str) -> float:
    """A value in SI, in the unit `symbol`."""
    known = unit(symbol)
    return (value - known.offset) / known.factor
