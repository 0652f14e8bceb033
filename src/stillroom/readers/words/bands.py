"""Frequencies as tables of levels write them: "31.5", "1k", "1.25 kHz", "LZeq 25 Hz", and which of them are bands.

Source: IEC 61260-1:2014, 5.3 (exact midband frequencies 1000 · 10^(k/10) Hz) and Annex E (nominal ones).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

LOWEST, HIGHEST = -20, 14
"""Numbers k of the third-octave bands that are known: 10 Hz to 25 kHz."""

FEWEST = 6
"""Fewest bands side by side that make headers of numbers a table of bands."""

_NEAR = 0.02
"""How far a nominal frequency lies from the exact one, relative; 1.3 % at most (315, 1600, 8000 …)."""

_EVEN = 0.02
"""How far the steps of an evenly spaced spectrum may differ, relative: frequencies are printed rounded."""

_CELL = re.compile(r"\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<k>k)?\s*(?P<hz>hz)?\s*", re.IGNORECASE | re.ASCII)
_HEADER = re.compile(
    r"\s*(?P<words>(?:(?:l[a-z]{0,4}|level|band|leq|spl|terz\w*|pegel|niveau|f|1/3[ -]?oct\w*)(?=[ _:=\d-])[ _:=-]*)*)"
    r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<k>k)?\s*(?P<hz>hz)?"
    r"\s*(?:[,/]?\s*[\[(]?\s*(?P<unit>db(?:\s*[\[(]?[acz][\])]?|\(lin\))?)\s*[\])]?)?\s*",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True)
class BandHeader:
    """A header that names a band: its frequency [Hz], and the unit of its levels in words, "" where untold."""

    frequency: float
    unit: str


def hertz(cell: str) -> str:
    """A cell with a frequency as the text of its number in Hz, with a decimal point; as it is where it is none.

    "1k" and "1 kHz" are 1000, "31,5 Hz" is 31.5.
    """
    hit = _CELL.fullmatch(cell)
    if hit is None:
        return cell
    number = hit["number"].replace(",", ".")
    return repr(float(number) * 1000.0) if hit["k"] else number


def hertz_cells(cells: Sequence[str], thousands: str = "") -> list[str]:
    """The cells of a column of frequencies as texts of numbers in Hz; `thousands` is the mark between groups."""
    return [hertz(cell.replace(thousands, "") if thousands else cell) for cell in cells]


def carries_hertz(cells: Iterable[str]) -> bool:
    """Whether all cells are frequencies, some of them with Hz, kHz or k behind the number."""
    hits = [_CELL.fullmatch(cell) for cell in cells if cell.strip()]
    return bool(hits) and all(hits) and any(hit and (hit["k"] or hit["hz"]) for hit in hits)


def must_be_hertz(cells: Iterable[str]) -> bool:
    """Whether plain numbers can only be frequencies in Hz: in kHz some would lie far beyond hearing."""
    hits = [_CELL.fullmatch(cell) for cell in cells if cell.strip()]
    return (
        bool(hits) and all(hits) and max(float(hit["number"].replace(",", ".")) for hit in hits if hit) > 50.0
    )


def band_header(cell: str) -> BandHeader | None:
    """The band that a header names, None where it names none."""
    hit = _HEADER.fullmatch(cell)
    if hit is None:
        return None
    frequency = float(hit["number"].replace(",", ".")) * (1000.0 if hit["k"] else 1.0)
    if third_octave(frequency) is None:
        return None
    weighting = re.match(r"l([acz])", hit["words"].strip(), re.IGNORECASE)
    unit = hit["unit"] or ""
    if weighting and unit.casefold() in {"", "db"}:
        unit = f"dB{weighting[1].upper()}"
    return BandHeader(frequency, unit)


def third_octave(frequency: float) -> int | None:
    """The number k of the third-octave band with this nominal or exact midband frequency [Hz]; None where it is
    none of them.
    """
    if not frequency > 0.0:
        return None
    number = round(10.0 * math.log10(frequency / 1000.0))
    exact = 1000.0 * 10.0 ** (number / 10.0)
    near = abs(frequency / exact - 1.0) <= _NEAR
    return number if near and LOWEST <= number <= HIGHEST else None


def bands_in(cells: Sequence[str]) -> dict[int, BandHeader]:
    """{column index: band} of a row of headers with third-octave bands side by side; {} where it isn't one."""
    found = {i: band for i, cell in enumerate(cells) if (band := band_header(cell)) is not None}
    numbers = [third_octave(each.frequency) or 0 for each in found.values()]
    if len(found) < FEWEST or any(b - a != 1 for a, b in pairwise(numbers)):
        return {}
    return found


def are_third_octaves(frequencies: Sequence[float]) -> bool:
    """Whether frequencies [Hz] are those of third-octave bands, each once, and not of octaves only."""
    numbers = [third_octave(each) for each in frequencies]
    known = [each for each in numbers if each is not None]
    if len(known) < len(numbers) or len(set(known)) < len(known):
        return False
    steps = [b - a for a, b in pairwise(sorted(known))]
    return not steps or min(steps) < 3


def are_even(frequencies: Sequence[float]) -> bool:
    """Whether frequencies [Hz] rise in even steps, as those of a spectrum do."""
    if len(frequencies) < FEWEST:
        return False
    steps = [b - a for a, b in pairwise(frequencies)]
    mean = (frequencies[-1] - frequencies[0]) / (len(frequencies) - 1)
    return min(steps) > 0.0 and max(abs(each - mean) for each in steps) <= max(_EVEN * mean, 1e-9)
