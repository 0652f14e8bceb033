"""How the methodology writes what a lab was told, what it was not told, and numbers with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from decimal import Decimal

from stillroom import wording
from stillroom.lab.ranking_words import gap_unit
from stillroom.vocabulary import BY_NAME, Quantity, from_si, shown_unit, unit

NOT_TOLD = "not told"
"""What stands wherever nobody told: never a blank, never a guess."""

MOST_NAMES = 12
"""So many names stand in a sentence; tables hold all."""


def told(words: str | None) -> str:
    """Words as the lab has them, or that nobody told."""
    return " ".join((words or "").split()) or NOT_TOLD


def as_told(value: float, symbol: str = "") -> str:
    """A number that somebody told, with the digits that it was told with (six at the most)."""
    plain = format(Decimal(f"{value:.6g}").normalize(), "f")
    return wording.with_unit(wording.number(value, len(plain.partition(".")[2])), symbol)


def from_si_told(value: float | None, symbol: str) -> str:
    """A told number that is kept in SI, in the unit that is shown."""
    return NOT_TOLD if value is None else as_told(from_si(value, symbol), symbol)


def with_u(value: float, u: float | None, symbol: str) -> str:
    """A value with its standard uncertainty, both to the place that it allows: "40.012 mm ± 0.010 mm"."""
    if not u:
        return as_told(value, symbol)
    places = wording.places_for(u)
    first, second = (wording.number(each, places) for each in (value, u))
    return f"{wording.with_unit(first, symbol)} ± {wording.with_unit(second, symbol)}"


def two_digits(value: float, symbol: str) -> str:
    """An uncertainty that was worked out: two significant digits are all that it deserves (JCGM 100:2008, 7.2.6)."""
    places = 1 - int(f"{value:.1e}".split("e")[1])
    return wording.with_unit(wording.number(value, places), symbol)


def coefficient(value: float, u: float, symbol: str) -> str:
    """A coefficient with its standard uncertainty, by powers of ten where it is far from one."""
    power = math.floor(math.log10(abs(value))) if value else 0
    power = 0 if LEAST_POWER <= power <= -LEAST_POWER else power
    said = with_u(value * 10.0**-power, u * 10.0**-power, "")
    if not power:
        return wording.with_unit(said, symbol)
    said = f"({said})" if "±" in said else said
    return wording.with_unit(f"{said} · 10{str(power).translate(wording.RAISED)}", symbol)


LEAST_POWER = -2
"""From 10⁻² to 10² a coefficient is written without a power of ten."""


def difference_unit(quantity: Quantity, units: Mapping[str, str]) -> str:
    """The unit of a difference of a quantity: a degree Celsius is a kelvin, a level's is the decibel."""
    symbol = shown_unit(quantity, dict(units))
    return "K" if unit(symbol).offset else gap_unit(symbol)


def difference(value: float, quantity: Quantity, units: Mapping[str, str]) -> str:
    """A difference or an uncertainty that is kept in SI, in the unit that is shown."""
    symbol = difference_unit(quantity, units)
    return as_told(value / unit(symbol).factor, symbol)


def quantity_words(name: str) -> str:
    """A quantity of the vocabulary in words."""
    return BY_NAME[name].label if name in BY_NAME else name.replace("_", " ")


def percent(share: float) -> str:
    """A share that was told, as people read it: "0.5 %"."""
    return as_told(100.0 * share, "%")


def days(dates: Collection[str]) -> str:
    """The days of something, from the first to the last: "2026-11-17", "2026-11-17 to 2026-11-24"."""
    known = sorted({each[:10] for each in dates if each})
    if not known:
        return NOT_TOLD
    return known[0] if len(known) == 1 else f"{known[0]} to {known[-1]}"


def names(of: Collection[str]) -> str:
    """Names in a sentence, in the order of the alphabet; beyond `MOST_NAMES` the rest are counted."""
    return wording.listed(sorted(of), most=MOST_NAMES)


def several(amount: int, one: str, many: str = "") -> str:
    """An amount with its noun, whose plural may be told: "one fan", "two boxes"."""
    return f"{wording.count(amount)} {many}" if many and amount != 1 else wording.plural(amount, one)


def share_words(share: float) -> str:
    """A share that was worked out, in whole per cent; what is less is said to be less."""
    whole = round(100.0 * share)
    if whole >= 1 or share <= 0.0:
        return wording.with_unit(wording.number(whole), "%")
    return f"under {wording.with_unit('1', '%')}"
