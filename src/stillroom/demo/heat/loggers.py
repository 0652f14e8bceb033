"""The heat rig's logger files: each logger with its own clock, its own columns, its own way to write a table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.exports import Column, save
from stillroom.demo.heat.plan import Form
from stillroom.vocabulary import unit

Array = NDArray[np.float64]

SUPPLIED = "supplied voltage"
"""The drive of a fan that is set by its supply voltage, as the logger of temperatures has it."""
_LOCAL = (
    Column("Heißfühler", "hot_temperature", "°C", 2),
    Column("Vorlauf", "liquid_in_temperature", "°C", 2),
    Column("Rücklauf", "liquid_out_temperature", "°C", 2),
    Column("Zuluft 1", "air_in_temperature", "°C", 2),
    Column("Zuluft 2", "air_in_temperature_2", "°C", 2),
    Column("Zuluft 3", "air_in_temperature_3", "°C", 2),
    Column("Tastgrad", "duty", "%", 0),
    Column("Spannung", SUPPLIED, "V", 2),
)
_LOCAL_ROOM = (
    Column("Luftfeuchte", "relative_humidity", "%", 1),
    Column("Luftdruck", "barometric_pressure", "hPa", 1),
)
_POWER = (
    Column("heater volts", "heater_voltage", "V", 2),
    Column("heater amps", "heater_current", "A", 4),
    Column("coolant flow", "liquid_flow", "l/min", 3),
    Column("fan speed", "speed", "rpm", 0),
    Column("fan volts", "voltage", "V", 2),
    Column("fan amps", "current", "A", 4),
)
_ROOM = (
    Column("humidity", "relative_humidity", "%", 1),
    Column("barometer", "barometric_pressure", "hPa", 1),
)
_ALL = (
    Column("t_hot", "hot_temperature", "°C", 3),
    Column("liquid in", "liquid_in_temperature", "°C", 3),
    Column("liquid out", "liquid_out_temperature", "°C", 3),
    Column("air in 1", "air_in_temperature", "°C", 3),
    Column("air in 2", "air_in_temperature_2", "°C", 3),
    Column("air in 3", "air_in_temperature_3", "°C", 3),
    *_POWER,
    Column("duty", "duty", "%", 0),
    *_ROOM,
)
TEMPERATURES, POWER, ROOM, BENCH = "temperature logger", "power logger", "room logger", "bench computer"
"""The loggers' names."""

Cells = Sequence[str]


@dataclass(frozen=True)
class Way:
    """How a logger writes a table.

    Parameters
    ----------
    encoding, end : of the text and of its lines. head : lines above the rows, from the columns and the first stamp.
    row : one line, from its stamp, the first stamp, and its cells.
    """

    encoding: str
    end: str
    head: Callable[[Sequence[Column], datetime], Sequence[str]]
    row: Callable[[datetime, datetime, Cells], str]


def _local_head(columns: Sequence[Column], _: datetime) -> Sequence[str]:
    return (
        ";".join(("Datum", "Zeit", *(each.words for each in columns))),
        ";".join(("", "", *(each.unit for each in columns))),
    )


def _local_row(stamp: datetime, _: datetime, cells: Cells) -> str:
    return f"{stamp:%d.%m.%Y;%H:%M:%S};" + ";".join(cells).replace(".", ",")


def _plain_head(columns: Sequence[Column], _: datetime) -> Sequence[str]:
    return (",".join(("time", *(each.header for each in columns))),)


def _epoch_row(stamp: datetime, _: datetime, cells: Cells) -> str:
    return f"{stamp.replace(tzinfo=UTC).timestamp():.1f}," + ",".join(cells)


def _iso_row(stamp: datetime, _: datetime, cells: Cells) -> str:
    return f"{stamp:%Y-%m-%dT%H:%M:%S}," + ",".join(cells)


def _started_head(columns: Sequence[Column], first: datetime) -> Sequence[str]:
    names = "\t".join(("time [s]", *(each.header for each in columns)))
    return ("Room logger", f"Start: {first:%Y-%m-%d %H:%M:%S}", "", names)


def _since_row(stamp: datetime, first: datetime, cells: Cells) -> str:
    return f"{(stamp - first).total_seconds():.0f}\t" + "\t".join(cells)


LOCAL = Way("cp1252", "\r\n", _local_head, _local_row)
"""Semicolons, decimal commas, Windows-1252, dates the local way, units in a line of their own."""
EPOCH = Way("utf-8", "\n", _plain_head, _epoch_row)
"""Commas, times as seconds of the epoch; the rigs' clocks run on coordinated universal time."""
SINCE_START = Way("utf-8", "\n", _started_head, _since_row)
"""Tabs, times in seconds since the start, which stands above."""
ISO = Way("utf-8", "\n", _plain_head, _iso_row)
"""Commas, ISO times."""


@dataclass(frozen=True)
class Logged:
    """One logger's share of a run.

    Parameters
    ----------
    logger : its name. ending : of the file's name. columns : of those that were read. way : how it writes.
    every : of how many rows one is written. late : what its clock is behind the right time, unsaid [s].
    """

    logger: str
    ending: str
    columns: tuple[Column, ...]
    way: Way
    every: int = 1
    late: float = 0.0

    def lines(
        self, start: datetime, times: Array, read: Mapping[str, Array], ahead: float = 0.0
    ) -> tuple[Sequence[str], list[str]]:
        """The lines above the rows, and the rows.

        Parameters
        ----------
        start : true time of the first row. times : since then [s]. read : by quantity, in SI.
        ahead : what its clock is ahead, beside what it is late [s].
        """
        columns = tuple(column for column in self.columns if column.quantity in read)
        stamps = [start + timedelta(seconds=float(t) + ahead - self.late) for t in times[:: self.every]]
        cells = [shown(read[column.quantity][:: self.every], column) for column in columns]
        rows = zip(*cells, strict=True)
        written = [self.way.row(s, stamps[0], row) for s, row in zip(stamps, rows, strict=True)]
        return self.way.head(columns, stamps[0]), written


@dataclass(frozen=True)
class LogFile:
    """One file as it was written, relative to the folder, and who wrote it."""

    file: str
    logger: str


def logged(form: Form) -> tuple[Logged, ...]:
    """The loggers of a run."""
    power = Logged(POWER, "power.csv", _POWER, EPOCH, late=0.6)
    if form is Form.BENCH_TWO:
        return (Logged(TEMPERATURES, "temp.csv", (*_LOCAL, *_LOCAL_ROOM), LOCAL), power)
    if form is Form.BENCH_THREE:
        return (
            Logged(TEMPERATURES, "temp.csv", _LOCAL, LOCAL),
            power,
            Logged(ROOM, "room.txt", _ROOM, SINCE_START, every=5, late=-1.0),
        )
    return (Logged(BENCH, "all.csv", _ALL, ISO),)


def save_logs(
    folder: Path,
    place: str,
    loggers: Sequence[Logged],
    start: datetime,
    times: Array,
    read: Mapping[str, Array],
    clocks: Mapping[str, float],
) -> tuple[LogFile, ...]:
    """Write the files of one run.

    Parameters
    ----------
    place : folder and first words of their names. loggers : that write. start : true time of the first row.
    times : since then [s]. read : by quantity, in SI. clocks : what a logger's clock is ahead of the right time [s].
    """
    found = []
    for each in loggers:
        head, rows = each.lines(start, times, read, clocks.get(each.logger, 0.0))
        file = f"{place} {each.ending}"
        save(folder / file, "".join(line + each.way.end for line in (*head, *rows)), each.way.encoding)
        found.append(LogFile(file, each.logger))
    return tuple(found)


def shown(values: Array, column: Column) -> list[str]:
    """Readings in SI as a logger prints them."""
    known = unit(column.unit)
    form = f"%.{column.digits}f"
    return [form % each for each in ((values - known.offset) / known.factor).tolist()]
