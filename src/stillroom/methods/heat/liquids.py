"""The liquid in a loop by the words of a rig's record."""

from __future__ import annotations

import re

from stillroom.core.heat.liquid import WATER, Liquid, LiquidKind
from stillroom.errors import BadInput

_GLYCOL = re.compile(r"(?:ethylene )?glycol\s*,?\s*(\d+(?:[.,]\d+)?)\s*%(?:\s+water)?", re.IGNORECASE)


def liquid_named(words: str) -> Liquid | None:
    """The liquid that a record names, "water" or "glycol 30 %" (of ethylene glycol, by mass); None where it names none.

    Raises
    ------
    BadInput : other words. OutOfRange : a mixture that no table covers.
    """
    plain = " ".join(words.split()).casefold()
    if not plain:
        return None
    if plain in {"water", "distilled water", "deionised water"}:
        return WATER
    if hit := _GLYCOL.fullmatch(plain):
        return Liquid(LiquidKind.GLYCOL, float(hit[1].replace(",", ".")) / 100.0)
    raise BadInput("coolant", found=repr(words), expected='"water", or "glycol 30 %" by mass')
