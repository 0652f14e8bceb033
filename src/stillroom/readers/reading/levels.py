"""What the readings of a table of levels tell of its kind: bands or a spectrum, a series or a sheet; and its times."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stillroom.errors import BadInput
from stillroom.readers.words.bands import are_even, are_third_octaves
from stillroom.readers.words.headers import TIME
from stillroom.readers.words.kinds import Kind, sheet_without_time
from stillroom.readers.words.numbers import Array

LONGEST_STEP = 10.0
"""Longest time between the levels of a series [s]: slower readings are a sheet's."""

_STEADY = 0.2
"""How far the steps of a series may differ from their median, relative, in nine of ten."""

_DAY = 86_400.0


@dataclass(frozen=True)
class Levels:
    """A table of levels as its columns were read.

    Parameters
    ----------
    place : the file. kind : by its columns. columns : {quantity: values (readings,) [SI]}.
    texts : {text column: text of each reading}. headers : {quantity or text column: its header}.
    lines : of each reading.
    """

    place: str
    kind: Kind
    columns: dict[str, Array]
    texts: Mapping[str, Sequence[str]]
    headers: Mapping[str, str]
    lines: Sequence[int]


def completed(table: Levels) -> tuple[Kind, dict[str, Array]]:
    """The kind that the readings of a table of levels show, and its columns; of a series with the seconds since its
    first level.

    Raises
    ------
    BadInput : frequencies that are neither those of third-octave bands nor evenly spaced; times that don't rise.
    """
    if table.kind is Kind.BAND_LEVELS:
        return _kind_of_spectrum(table), table.columns
    if table.kind is Kind.LEVEL_SERIES:
        return _series(table)
    return table.kind, table.columns


def stretches(frequencies: Array) -> list[tuple[int, int]]:
    """[first, last) of each spectrum in a column of frequencies: one begins where the frequency falls back."""
    edges = [0, *(np.flatnonzero(np.diff(frequencies) <= 0.0) + 1).tolist(), len(frequencies)]
    return list(pairwise(edges))


def _kind_of_spectrum(table: Levels) -> Kind:
    frequencies = table.columns["frequency"]
    kinds = []
    for first, last in stretches(frequencies):
        own = frequencies[first:last].tolist()
        bands, even = are_third_octaves(own), are_even(own)
        if not bands and not even:
            raise BadInput(
                "frequencies",
                place=f"{table.place}, lines {table.lines[first]} to {table.lines[last - 1]}",
                found=", ".join(f"{each:g}" for each in own[:5]) + " … Hz",
                expected="one-third-octave bands (25, 31.5, 40 … Hz, each once, rising), or a spectrum in even steps",
            )
        kinds.append(Kind.BAND_LEVELS if bands else Kind.NARROW_BAND)
    return kinds[0]


def _series(table: Levels) -> tuple[Kind, dict[str, Array]]:
    times = table.columns[TIME] if TIME in table.columns else seconds_of(table)
    steps = np.diff(times)
    middle = float(np.median(steps)) if steps.size else 0.0
    even = float(np.mean(np.abs(steps - middle) <= _STEADY * max(middle, 1e-9))) if steps.size else 0.0
    if 0.0 < middle <= LONGEST_STEP and even >= 0.9:
        return table.kind, table.columns | {TIME: times}
    columns = dict(table.columns)
    if "sound_level" not in columns and "fast_level" in columns:
        columns["sound_level"] = columns.pop("fast_level")  # read off a meter that shows it
    if sheet_without_time(columns):
        return Kind.SOUND_SHEET, columns
    raise BadInput(
        "times",
        place=table.place,
        found=f"steps of {middle:g} s, {even:.0%} of them alike" if steps.size else "one level",
        expected=f"a series of levels in even steps of at most {LONGEST_STEP:g} s",
    )


def seconds_of(table: Levels) -> Array:
    """Seconds since the first reading, from its clocks; a clock that falls back has passed midnight.

    Raises
    ------
    BadInput : a cell that is no time of the day.
    """
    texts = list(table.texts[TIME])
    try:
        moments = [_moment(each) for each in texts]
    except ValueError:
        line = next(line for line, each in zip(table.lines, texts, strict=True) if not _is_moment(each))
        raise BadInput(
            f"column {table.headers[TIME]!r}",
            place=f"{table.place}, line {line}",
            found="no time of the day",
            expected=f"a clock in each row, or --as 'unit:{table.headers[TIME]}=s' for seconds",
        ) from None
    seconds = np.array(moments)
    if len(seconds) and seconds.max() <= _DAY:
        seconds += _DAY * np.concatenate(([0.0], np.cumsum(np.diff(seconds) < -_DAY / 2)))
    since: Array = seconds - seconds[0]
    return since


def _is_moment(text: str) -> bool:
    try:
        _moment(text)
    except ValueError:
        return False
    return True


def _moment(text: str) -> float:
    """A clock as seconds of the day, a date and time as seconds since 1970."""
    if ":" in text and "-" not in text:
        clock = dt.time.fromisoformat(text)
        return clock.hour * 3600.0 + clock.minute * 60.0 + clock.second + clock.microsecond * 1e-6
    moment = dt.datetime.fromisoformat(text)
    return moment.replace(tzinfo=moment.tzinfo or dt.UTC).timestamp()
