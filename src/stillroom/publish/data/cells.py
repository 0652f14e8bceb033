"""Cells of the tables that are published: numbers to the digits that they deserve, text that starts no formula."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from decimal import Decimal

from stillroom import wording
from stillroom.charts.cells import safe_text

FIGURES = 6
"""Significant digits of numbers that are published for further calculation (JCGM 100:2008, 7.2.6 lets further digits
stay where rounding would add to the errors of what is calculated)."""

APOSTROPHE_RULE = (
    "A text that a spreadsheet would take for a formula has an apostrophe before it: one that begins with =, +, -, @, "
    "an apostrophe, a tab or a line break, and one in which =, +, -, @ or an apostrophe follows a semicolon, a tab or "
    "a line break, at that place. To have the text as it is, take away one apostrophe at the beginning and one after "
    "each semicolon, tab and line break. Numbers carry none."
)
"""How texts in CSV files (`charts.cells.safe_text`) are told, in words for those who read them."""

Cell = str | Decimal | float | int | bool | None
"""A cell before it is written; a decimal is printed with all its digits, None where nothing is known."""


def places_of(value: float, low: float | None, high: float | None) -> int:
    """The decimal place to which a value is printed (1 = tenths, −1 = tens).

    Parameters
    ----------
    value : in the unit shown. low, high : its 95 % interval; None or infinite where an end is open.

    Returns
    -------
    int : by half the interval; by the end that is known where one is open; three significant digits of the value
    where there is no interval.
    """
    ends = [each for each in (low, high) if each is not None and math.isfinite(each)]
    half = (
        (max(ends) - min(ends)) / 2
        if len(ends) == 2
        else max((abs(each - value) for each in ends), default=0.0)
    )
    if half > 0.0:
        return wording.places_for(half)
    if ends:
        return 1
    return 2 - int(f"{value:.2e}".split("e")[1]) if value else 0


def decimal_of(value: float, places: int) -> Decimal | None:
    """A number of a file, to a decimal place, as `wording.number` prints it; None where it isn't finite."""
    if not math.isfinite(value):
        return None
    return Decimal(wording.number(value, places).replace(wording.COMMA, "").replace(wording.MINUS, "-"))


def figures(value: float | None, digits: int = FIGURES) -> float | None:
    """A number to so many significant digits; None where there is none, or where it isn't finite."""
    return None if value is None or not math.isfinite(value) else float(f"{value:.{digits - 1}e}")


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A CSV file (RFC 4180, UTF-8, comma, dot): texts by `safe_text`, an empty cell where nothing is known."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([safe_text(each) for each in header])
    writer.writerows([_written(each) for each in row] for row in rows)
    return text.getvalue().encode("utf-8")


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, str):
        return safe_text(cell)
    return f"{cell:f}" if isinstance(cell, Decimal) else repr(cell)
