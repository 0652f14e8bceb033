"""A practical margin from its words."""

from __future__ import annotations

import re

from stillroom.compare.candidates import Margin, MarginKind
from stillroom.errors import BadInput
from stillroom.measures import Measure
from stillroom.vocabulary import is_unit, unit

_MARGIN = re.compile(r"(?P<number>\d{1,6}(?:[.,]\d{1,6})?)\s*(?P<unit>[^\s\d].*)")


MOST = {True: 20.0, False: 1.0}
"""Under which a margin lies, as in a lab's settings: of a measure that has its own unit [dB, K], and of others [1]."""


def margin_in(told: str, measure: Measure, place: str = "") -> Margin:
    """A practical margin from its words: "5 %", or of a level and a temperature rise "1 dB", "0.4 K".

    Parameters
    ----------
    told : the words. measure : whose margin it is. place : where they stand, for errors.

    Raises
    ------
    BadInput : no such words, or another unit than the measure's margin has.
    """
    hit = _MARGIN.fullmatch(" ".join(told.split()))
    wanted = measure.spread_unit or "%"
    symbol = hit["unit"] if hit and is_unit(hit["unit"]) else ""
    if hit is None or not symbol or unit(symbol).dimension != unit(wanted).dimension:
        expected = f"a number with its unit, such as '{'1' if measure.absolute else '5'} {wanted}'"
        raise BadInput(f"margin of {measure.name}", place=place, found=repr(told), expected=expected)
    size, most = float(hit["number"].replace(",", ".")) * unit(symbol).factor, MOST[measure.absolute]
    if not 0.0 < size < most:
        expected = (
            f"more than 0 and less than {most:g} {wanted}"
            if measure.absolute
            else "more than 0, less than 100 %"
        )
        raise BadInput(f"margin of {measure.name}", place=place, found=repr(told), expected=expected)
    return Margin(size, MarginKind.ABSOLUTE if measure.absolute else MarginKind.RELATIVE)
