"""What is gathered of a log while it is streamed: however long it is, it takes no more room than `MOST_HELD` rows."""

from __future__ import annotations

import math
from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import BadInput, UnreadableFile
from stillroom.readers.heat.channels import Channel, cleaned, is_wrong
from stillroom.readers.heat.log import Log
from stillroom.readers.heat.rising import GoesBack, Rising, rising
from stillroom.readers.heat.stamps import DAY, NoStamp, Stamped, epoch_factor, moment, stamps_of
from stillroom.readers.layout import Layout
from stillroom.readers.reading.bounds import expected_words
from stillroom.readers.words.headers import DATE, NAMES, TIME
from stillroom.readers.words.numbers import Array
from stillroom.vocabulary import from_si

MOST_HELD = 2_000_000
"""Rows of a log that are held as they are; of a longer one each pair of rows is averaged, and again."""

MOST_NAMES = 100
"""So many different words of a column of names are kept at least; there should be one."""

FEWEST = 3
"""A log has at least so many rows."""

LONGEST = 0.5e9
"""No log has run so long since its own start [s]: 15 years."""

LONGEST_GAP = 7 * DAY
"""No run of a fan goes on after such a gap [s]: two runs stand in one file, or the clock was set anew."""


@dataclass
class LogGathering:
    """The readings of a log so far.

    Parameters
    ----------
    place : the file, for messages. layout : how it is read.
    """

    place: str
    layout: Layout
    stamped: Stamped | None = None
    averaged: int = 1
    read: int = 0
    channels: dict[str, Channel] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._stamps: list[Array] = []
        self._lines: list[NDArray[np.int64]] = []
        self._values: dict[str, list[Array]] = {}
        self._names: dict[str, dict[str, None]] = {}
        self._held = 0

    def add(
        self, numbers: Mapping[str, Array], texts: Mapping[str, Sequence[str]], lines: NDArray[np.int64]
    ) -> None:
        """Take a stretch of readings.

        Raises
        ------
        BadInput : a cell of the time column holds no time.
        """
        stamps = self._stamps_of(numbers, texts, lines)
        part = {TIME: stamps} | {
            name: cleaned(
                name, values, self.layout.units[name], lines, self.channels.setdefault(name, Channel())
            )
            for name, values in numbers.items()
            if name != TIME
        }
        for name in NAMES:
            if name in texts and len(self._names.setdefault(name, {})) < MOST_NAMES:
                self._names[name] |= dict.fromkeys(each for each in texts[name] if each)
        self.read += len(lines)
        if self.averaged > 1:
            part, lines = _averaged(part, lines, self.averaged)
        self._stamps.append(part.pop(TIME))
        self._lines.append(lines)
        for name, values in part.items():
            self._values.setdefault(name, []).append(values)
        self._held += len(lines)
        while self._held > MOST_HELD:
            self._halve()

    def finished(self) -> tuple[dict[str, Array], array[int], Log]:
        """The columns with the seconds since the first row as "time", the line of each reading, and what is known.

        Raises
        ------
        UnreadableFile : too few readings, or no time passes in them.
        BadInput : times that go back; a channel of a wrong unit.
        """
        if self.read < FEWEST:
            found = f"{self.read} rows" if self.read else "no readings under the header"
            raise UnreadableFile("log", place=self.place, found=found, expected=f"at least {FEWEST} rows")
        assert self.stamped is not None
        lines = np.concatenate(self._lines)
        times = self._rising(np.concatenate(self._stamps), lines)
        columns = {TIME: times.seconds} | {name: np.concatenate(each) for name, each in self._values.items()}
        for name in columns:
            self._check(name)
        log = Log(
            stamped=self.stamped,
            begin=_words(times.begin, self.stamped),
            end=_words(times.begin + times.span, self.stamped),
            rows=self.read,
            step=times.step,
            span=times.span,
            repeated=times.repeated,
            slips=times.slips,
            midnights=times.midnights,
            gaps=times.gaps,
            channels=self.channels,
            first=times.begin if self.stamped is Stamped.ELAPSED else 0.0,
            averaged=self.averaged,
            names={name: tuple(each) for name, each in self._names.items()},
        )
        return columns, array("q", lines.tobytes()), log

    def _stamps_of(
        self, numbers: Mapping[str, Array], texts: Mapping[str, Sequence[str]], lines: NDArray[np.int64]
    ) -> Array:
        if TIME in numbers:
            return self._of_numbers(numbers[TIME], lines)
        try:
            order = self.layout.date_order if self.layout.is_log else ""  # else they are in ISO 8601 already
            stamped, stamps = stamps_of(texts[TIME], texts.get(DATE), order)
        except NoStamp as problem:
            raise self._no_stamp(problem.text, int(lines[problem.at])) from None
        if self.stamped not in {None, stamped}:
            raise self._no_stamp(texts[TIME][0], int(lines[0]))
        self.stamped = stamped
        return stamps

    def _of_numbers(self, values: Array, lines: NDArray[np.int64]) -> Array:
        bad = np.flatnonzero(~np.isfinite(values))
        if bad.size:
            raise self._no_stamp("", int(lines[bad[0]]))
        if self.stamped is None:
            self.stamped = self._counted(float(values[0]), int(lines[0]))
        return values

    def _counted(self, first: float, line: int) -> Stamped:
        """From when times in numbers count: refused where their unit fits neither 1970 nor a start of a log."""
        symbol = self.layout.units[TIME]
        shown = from_si(first, symbol)
        factor = epoch_factor(shown)
        if factor and math.isclose(first, factor * shown, rel_tol=1e-9):
            return Stamped.EPOCH
        if factor or abs(first) > LONGEST:
            header = self.layout.headers[TIME]
            raise BadInput(
                f"unit of column {header!r}",
                place=f"{self.place}, line {line}",
                found=f"{shown:.15g} {symbol}",
                expected=f"time since the start, or since 1970, in its own unit: --as 'unit:{header}=UNIT'",
            )
        return Stamped.ELAPSED

    def _no_stamp(self, text: str, line: int) -> BadInput:
        header = self.layout.headers[TIME]
        return BadInput(
            f"column {header!r}",
            place=f"{self.place}, line {line}",
            found=repr(text.strip()[:80]) if text.strip() else "an empty cell",
            expected="a time as in the other rows",
        )

    def _rising(self, stamps: Array, lines: NDArray[np.int64]) -> Rising:
        assert self.stamped is not None
        header = self.layout.headers[TIME]
        try:
            times = rising(stamps, self.stamped)
        except GoesBack as problem:
            raise BadInput(
                f"column {header!r}",
                place=f"{self.place}, line {lines[problem.at]}",
                found=f"a time {_span(problem.by)} before that of the row above",
                expected="times that rise: a file for each start of the logger, or for each side of a clock that"
                " was put back",
            ) from None
        if times.span <= 0.0:
            raise UnreadableFile(
                f"column {header!r}",
                place=self.place,
                found="one time in all rows",
                expected="times that rise",
            )
        for gap in times.gaps:
            if gap.last - gap.first > LONGEST_GAP:
                after = int(np.searchsorted(times.seconds, gap.last))
                raise BadInput(
                    f"column {header!r}",
                    place=f"{self.place}, line {lines[after]}",
                    found=f"a time {(gap.last - gap.first) / DAY:,.0f} days after that of the row above",
                    expected=f"gaps of {LONGEST_GAP / DAY:.0f} days at most: a file for each run",
                )
        return times

    def _check(self, name: str) -> None:
        """Refuse a channel whose unit must be wrong; names its first such cell."""
        known = self.channels.get(name)
        if known is None or not is_wrong(known, self.read):
            return
        symbol = self.layout.units[name]
        strange = from_si(min(known.strange, key=abs), symbol)
        raise BadInput(
            f"column {self.layout.headers[name]!r}",
            place=f"{self.place}, line {known.line}",
            found=f"{strange:.6g} {symbol} and {known.outside - 1:,} more such values"
            if known.outside > 1
            else f"{strange:.6g} {symbol}",
            expected=expected_words(name, symbol)
            + f" (or --as 'column:{self.layout.headers[name]}=none' to leave the column out)",
        )

    def _halve(self) -> None:
        self.averaged *= 2
        part = {name: np.concatenate(each) for name, each in self._values.items()}
        part[TIME] = np.concatenate(self._stamps)
        part, lines = _averaged(part, np.concatenate(self._lines), 2)
        self._stamps, self._lines = [part.pop(TIME)], [lines]
        self._values = {name: [values] for name, values in part.items()}
        self._held = len(lines)


def _averaged(
    part: Mapping[str, Array], lines: NDArray[np.int64], count: int
) -> tuple[dict[str, Array], NDArray[np.int64]]:
    """So many readings as one, at the first one's time: their mean where they have values; what is over at the end
    makes one too."""
    edges = np.arange(0, len(lines), count)
    means: dict[str, Array] = {}
    for name, values in part.items():
        if name == TIME:
            means[name] = values[edges]
            continue
        there = np.isfinite(values)
        with np.errstate(invalid="ignore", divide="ignore"):  # no value in all of them: NaN
            total = np.add.reduceat(np.where(there, values, 0.0), edges)
            means[name] = total / np.add.reduceat(there.astype(np.float64), edges)
    return means, lines[edges]


def _words(seconds: float, stamped: Stamped) -> str:
    if stamped is Stamped.ELAPSED:
        return ""
    if stamped is Stamped.CLOCK:
        return moment(seconds % DAY).partition("T")[2]
    return moment(seconds)


def _span(seconds: float) -> str:
    return (
        f"{seconds / 3600:.1f} h"
        if seconds >= 7200
        else f"{seconds / 60:.0f} min"
        if seconds >= 120
        else f"{seconds:g} s"
    )
