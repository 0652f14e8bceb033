"""What columns of levels hold: of which bands, and with which weighting; where it isn't told, it is asked.

"dB" alone says nothing of the weighting of a total level: a meter may show 41 dB unweighted where it shows 28 dBA.
Of a band it means the level without weighting.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from stillroom.errors import Contradiction
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.meaning.decided import BY_HAND, Decided
from stillroom.readers.words.headers import TIME, Header
from stillroom.vocabulary import plain

TOTALS = ("sound_level", "background_level", "fast_level")
LEVELS = (*TOTALS, "c_level", "band_level")
"""Quantities whose columns hold levels."""

WEIGHTED: Mapping[str, str] = {"dBA": "A", "dBC": "C", "dBZ": "Z"}
"""The weighting that a unit tells."""

_OF_BANDS: Mapping[str, str] = {"A": "dBA", "C": "dBC", "Z": "dB", "": "dB"}
_NAMED = re.compile(
    r"^l ?p? ?([acz])(?:$|[ f]|eq|p|s|i)|db ?\(?([acz])\b|(?:^| )([acz]) ?(?:weight|bewert|pegel|pond)"
)


def settle_levels(
    grid: Grid, header: Row, headers: Sequence[Header], decided: Sequence[Decided]
) -> list[Decided]:
    """The columns with the levels' weightings settled; a total level whose weighting isn't told has no unit.

    Raises
    ------
    Contradiction : a column's name and unit tell two weightings.
    """
    weightings = [
        _weighting(grid, header, index, head, each) if each.column.quantity in LEVELS else ""
        for index, (head, each) in enumerate(zip(headers, decided, strict=True))
    ]
    quantities = {each.column.quantity for each in decided}
    if "frequency" in quantities:
        return _of_bands(decided, weightings)
    return _of_totals(decided, weightings, has_time=TIME in quantities)


def _weighting(grid: Grid, header: Row, index: int, head: Header, each: Decided) -> str:
    """The weighting that a column tells ("A", "C", "Z"), "" where it tells none."""
    hit = _NAMED.search(plain(head.name))
    named = next((group.upper() for group in hit.groups() if group), "") if hit else ""
    stated = WEIGHTED.get(each.column.unit, "")
    if each.where == BY_HAND:
        return stated or named
    if named and stated and named != stated:
        raise Contradiction(
            f"weighting of column {head.text!r}",
            place=grid.place(header.line, index + 1),
            found=f"{named} in its name and {each.column.unit} as its unit",
            expected=f"the same, or --as 'unit:{head.text}=dBA'",
        )
    return named or stated


def _of_bands(decided: Sequence[Decided], weightings: Sequence[str]) -> list[Decided]:
    """Levels beside frequencies: those without weighting where there are several."""
    levels = [
        i
        for i, each in enumerate(decided)
        if each.column.quantity in {"sound_level", "fast_level", "band_level"}
    ]
    bare = [i for i in levels if weightings[i] in {"", "Z"}]
    kept = bare if bare and len(levels) > len(bare) else levels
    settled = list(decided)
    for i in levels:
        column = decided[i].column
        if i not in kept:
            settled[i] = Decided(
                replace(column, quantity="", unit="", in_cells=False), "beside levels without weighting"
            )
        elif column.unit:
            settled[i] = replace(
                decided[i], column=replace(column, quantity="band_level", unit=_OF_BANDS[weightings[i]])
            )
        else:
            settled[i] = replace(decided[i], column=replace(column, quantity="band_level"))
    return settled


def _of_totals(decided: Sequence[Decided], weightings: Sequence[str], *, has_time: bool) -> list[Decided]:
    quantities = [each.column.quantity for each in decided]
    leading = next(
        (w for q, w in zip(quantities, weightings, strict=True) if q in {"sound_level", "fast_level"}), ""
    )
    settled = list(decided)
    for i, (each, weighting) in enumerate(zip(decided, weightings, strict=True)):
        column = each.column
        if column.quantity not in TOTALS or not column.unit:
            continue
        told = weighting or (leading if column.quantity == "background_level" else "")
        if told == "C" and column.quantity == "sound_level" and "c_level" not in quantities:
            column = replace(column, quantity="c_level", unit="dBC")
        elif told in {"C", "Z"}:
            column = replace(column, quantity="", unit="", in_cells=False)
        elif told == "A":
            column = replace(column, unit="dBA")
        else:
            column = replace(column, unit="")
        if column.quantity == "fast_level" and not has_time and "sound_level" not in quantities:
            column = replace(column, quantity="sound_level")
        settled[i] = replace(each, column=column)
    return settled
