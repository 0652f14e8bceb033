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

_LOCAL = (
    Column("Heißfühler", "hot_temperature", "°C", 2),
    Column("Vorlauf", "liquid_in_temperature", "°C", 2),
    Column("Rücklauf", "liquid_out_temperature", "°C", 2),
    Column("Zuluft 1", "air_in_temperature", "°C", 2),
    Column("Zuluft 2", "air_in_temperature_2", "°C", 2),
    Column("Zuluft 3", "air_in_temperature_3", "°C", 2),
    Column("Tastgrad", "duty", "%", 0),
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

Write = Callable[[Path, Sequence[datetime], Sequence[Sequence[str]], Sequence[Column]], None]


@dataclass(frozen=True)
class Logged:
    """One logger's share of a run.

    Parameters
    ----------
    logger : its name. ending : of the file's name. columns : of those that were read. write : its way.
    every : of how many rows one is written. late : what its clock is behind the right time, unsaid [s].
    """

    logger: str
    ending: str
    columns: tuple[Column, ...]
    write: Write
    every: int = 1
    late: float = 0.0


@dataclass(frozen=True)
class LogFile:
    """One file as it was written, relative to the folder, and who wrote it."""

    file: str
    logger: str


def logged(form: Form) -> tuple[Logged, ...]:
    """The loggers of a run."""
    power = Logged(POWER, "power.csv", _POWER, write_epoch, late=0.6)
    if form is Form.BENCH_TWO:
        return (Logged(TEMPERATURES, "temp.csv", (*_LOCAL, *_LOCAL_ROOM), write_local), power)
    if form is Form.BENCH_THREE:
        return (
            Logged(TEMPERATURES, "temp.csv", _LOCAL, write_local),
            power,
            Logged(ROOM, "room.txt", _ROOM, write_since_start, every=5, late=-1.0),
        )
    return (Logged(BENCH, "all.csv", _ALL, write_iso),)


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
        columns = tuple(column for column in each.columns if column.quantity in read)
        ahead = clocks.get(each.logger, 0.0) - each.late
        stamps = [start + timedelta(seconds=float(t) + ahead) for t in times[:: each.every]]
        cells = [shown(read[column.quantity][:: each.every], column) for column in columns]
        file = f"{place} {each.ending}"
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        each.write(folder / file, stamps, list(zip(*cells, strict=True)), columns)
        found.append(LogFile(file, each.logger))
    return tuple(found)


def shown(values: Array, column: Column) -> list[str]:
    """Readings in SI as a logger prints them."""
    known = unit(column.unit)
    form = f"%.{column.digits}f"
    return [form % each for each in ((values - known.offset) / known.factor).tolist()]


def write_local(
    path: Path, stamps: Sequence[datetime], rows: Sequence[Sequence[str]], columns: Sequence[Column]
) -> None:
    """Semicolons, decimal commas, Windows-1252, dates the local way, units in a line of their own."""
    lines = [";".join(("Datum", "Zeit", *(each.words for each in columns)))]
    lines.append(";".join(("", "", *(each.unit for each in columns))))
    for stamp, row in zip(stamps, rows, strict=True):
        lines.append(f"{stamp:%d.%m.%Y;%H:%M:%S};" + ";".join(row).replace(".", ","))
    save(path, "\r\n".join(lines) + "\r\n", "cp1252")


def write_epoch(
    path: Path, stamps: Sequence[datetime], rows: Sequence[Sequence[str]], columns: Sequence[Column]
) -> None:
    """Commas, times as seconds of the epoch; the rigs' clocks run on coordinated universal time."""
    lines = [",".join(("time", *(each.header for each in columns)))]
    for stamp, row in zip(stamps, rows, strict=True):
        lines.append(f"{stamp.replace(tzinfo=UTC).timestamp():.1f}," + ",".join(row))
    save(path, "\n".join(lines) + "\n", "utf-8")


def write_since_start(
    path: Path, stamps: Sequence[datetime], rows: Sequence[Sequence[str]], columns: Sequence[Column]
) -> None:
    """Tabs, times in seconds since the start, which stands above."""
    lines = ["Room logger", f"Start: {stamps[0]:%Y-%m-%d %H:%M:%S}", ""]
    lines.append("\t".join(("time [s]", *(each.header for each in columns))))
    for stamp, row in zip(stamps, rows, strict=True):
        lines.append(f"{(stamp - stamps[0]).total_seconds():.0f}\t" + "\t".join(row))
    save(path, "\n".join(lines) + "\n", "utf-8")


def write_iso(
    path: Path, stamps: Sequence[datetime], rows: Sequence[Sequence[str]], columns: Sequence[Column]
) -> None:
    """Commas, ISO times."""
    lines = [",".join(("time", *(each.header for each in columns)))]
    for stamp, row in zip(stamps, rows, strict=True):
        lines.append(f"{stamp:%Y-%m-%dT%H:%M:%S}," + ",".join(row))
    save(path, "\n".join(lines) + "\n", "utf-8")
