"""What settings in time tell: the steps of a control test, the drive of a heat run, or a start's current."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from stillroom.errors import BadInput
from stillroom.readers.heat.rising import SLIP
from stillroom.readers.reading.levels import Levels, seconds_of
from stillroom.readers.words.headers import TIME
from stillroom.readers.words.kinds import HEAT_QUANTITIES, Kind
from stillroom.readers.words.numbers import Array

SAME: Mapping[str, float] = {"duty": 0.004, "voltage": 0.04}
"""By how much readings of one step may differ [SI]."""

LONGEST_DWELL = 180.0
"""Steps of a control test are shorter than this, settings of a heat run longer [s] (common practice)."""

FEWEST_SETTINGS = 4
"""Fewest different settings by which a log is told to be a test of the control."""

FEW = 3
"""With fewer readings a setting it is a table of steps, not a log."""

FASTEST = 0.025
"""A current that is read more often than this is a record of a start [s]: loggers of a heat rig are slower."""

LONGEST_RECORD = 60.0
"""A longer record of a current is no start's [s]."""


def is_asked(table: Levels) -> bool:
    """Whether the readings have to tell of a table's kind: it may be a control test's, by its columns."""
    drive_alone = table.kind is Kind.HEAT_LOG and not any(name in table.columns for name in HEAT_QUANTITIES)
    return table.kind.is_control or (drive_alone and "current" in table.columns)


def settled(table: Levels) -> tuple[Kind, dict[str, Array]]:
    """The kind that the readings show, and the columns, with the seconds since the first reading where there are times.

    Raises
    ------
    BadInput : a clock that is none.
    """
    if TIME not in table.columns and TIME not in table.texts:
        return table.kind, table.columns
    if table.kind is Kind.HEAT_LOG:
        return _of_current(table)
    if table.kind is Kind.START_TESTS:
        return table.kind, table.columns
    try:
        times = _times(table)
    except BadInput:
        if len(table.lines) > FEW * FEWEST_SETTINGS * 10:
            raise
        return table.kind, table.columns  # a sheet's column of remarks, or of days
    _refuse_falling(times, table)
    if _is_staircase(times, table.columns):
        return table.kind, table.columns | {TIME: times}
    return Kind.HEAT_LOG, table.columns


def _refuse_falling(times: Array, table: Levels) -> None:
    """Refuse times that go back: whether a setting was reached from below or from above goes by the order."""
    back = np.flatnonzero(np.diff(times) < -SLIP)
    if back.size:
        raise BadInput(
            f"column {table.headers[TIME]!r}",
            place=f"{table.place}, line {table.lines[int(back[0]) + 1]}",
            found=f"a time {times[back[0]] - times[back[0] + 1]:g} s before that of the row above",
            expected="rows in the order in which they were read",
        )


def _times(table: Levels) -> Array:
    if TIME in table.columns:
        since: Array = table.columns[TIME] - table.columns[TIME][0]
        return since
    return seconds_of(table)


def _of_current(table: Levels) -> tuple[Kind, dict[str, Array]]:
    if TIME not in table.columns or len(table.lines) < FEW:
        return table.kind, table.columns
    times = _times(table)
    steps = np.diff(times)
    is_record = 0.0 < float(np.median(steps)) <= FASTEST and float(times[-1]) <= LONGEST_RECORD
    return (Kind.INRUSH, table.columns | {TIME: times}) if is_record else (table.kind, table.columns)


def _is_staircase(times: Array, columns: Mapping[str, Array]) -> bool:
    """Whether the settings change within minutes, or with every few readings."""
    name = max(
        (each for each in SAME if each in columns), key=lambda each: _levels(columns[each], SAME[each])
    )
    settings = columns[name][np.isfinite(columns[name])]
    if _levels(settings, SAME[name]) < FEWEST_SETTINGS:
        return len(times) < FEW * FEWEST_SETTINGS
    edges = [0]
    for i, each in enumerate(settings.tolist()):
        if abs(each - settings[edges[-1]]) > SAME[name]:
            edges.append(i)
    if len(settings) < FEW * len(edges):
        return True
    begins = np.append(times[np.isfinite(columns[name])][edges], times[-1])
    return float(np.median(np.diff(begins))) < LONGEST_DWELL


def _levels(settings: Array, same: float) -> int:
    finite = settings[np.isfinite(settings)]
    return len(np.unique(np.round(finite / same)))
