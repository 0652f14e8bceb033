"""Settings as names of files, `--as` and run tables tell them: a number in its unit, one that can be meant."""

from __future__ import annotations

import math
import re

from stillroom.errors import BadInput, Contradiction
from stillroom.vocabulary import is_unit, to_si, unit

BOUNDS: dict[str, tuple[str, float]] = {"duty": ("%", 1.0), "volts": ("V", 600.0), "speed": ("rpm", 1000.0)}
"""{kind of setting: (its usual unit, the greatest that is believed [SI])}; common practice of fan benches."""

SHARE = 0.01
"""A duty up to here [1] can be a share of one that was taken for per cent: no fan is run at 0.6 %."""

_DIVISORS = {"%": 100.0, "rpm": 60.0}
_NUMBER = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)(?:\s+(?P<apart>.+)|(?P<unit>\D.*))?", re.ASCII)
_PERHAPS_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)


def setting_in_si(name: str, text: str, place: str) -> float:
    """A setting that was told as text, in SI.

    Parameters
    ----------
    name : "duty", "volts" or "speed". text : a number, with its unit or in the usual one (%, V, rpm).
    place : who told it, for messages.

    Raises
    ------
    BadInput : it is no number, nothing that can be set, or can be read in two ways.
    Contradiction : its unit is none of such a setting.
    """
    usual, _ = BOUNDS[name]
    hit = _NUMBER.fullmatch(text.strip())
    if hit is None:
        raise BadInput(name, place=place, found=repr(text), expected=f"a number in {usual}, such as 60")
    words = (hit["unit"] or hit["apart"] or "").strip()
    if words and not (is_unit(words) and unit(words).dimension == unit(usual).dimension):
        raise Contradiction(f"unit of {name}", place=place, found=repr(text), expected=f"a number in {usual}")
    symbol = unit(words).symbol if words else usual
    number = hit["number"]
    value = _si(number.replace(",", "."), symbol)
    if _PERHAPS_THOUSANDS.fullmatch(number):
        whole = re.sub(r"\D", "", number)
        if _si(whole, symbol) <= BOUNDS[name][1]:
            either = number.replace(",", ".")
            raise BadInput(
                name, place=place, found=f"{text!r}, which can mean {either} or {whole}", expected=whole
            )
    check_setting(name, value, place, text, stated=bool(words))
    return value


def _si(number: str, symbol: str) -> float:
    """A number in SI; of per cent and revolutions a minute by division, so that 70 % is 0.7 to the last digit."""
    divisor = _DIVISORS.get(symbol)
    return float(number) / divisor if divisor else to_si(float(number), symbol)


def check_setting(name: str, value: float, place: str, text: str, *, stated: bool = False) -> None:
    """Refuse a setting that nobody can mean.

    Parameters
    ----------
    name : "duty", "volts" or "speed". value : [SI]. place : who told it. text : as it was told.
    stated : whether the text itself states the unit.

    Raises
    ------
    BadInput : it is negative, beyond what there is, or a duty that may be a share of one.
    """
    symbol, most = BOUNDS[name]
    if not math.isfinite(value) or not 0 <= value <= most:
        greatest = f"0 to {most / unit(symbol).factor:g} {symbol}"
        raise BadInput(name, place=place, found=repr(text), expected=greatest)
    if name == "duty" and 0 < value <= SHARE and not stated:
        found = f"{text!r}, as if it were a share of one"
        raise BadInput(name, place=place, found=found, expected="per cent, such as 60")
