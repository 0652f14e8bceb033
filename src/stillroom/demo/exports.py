"""Sweeps as text: the kinds of file that hold one sweep each, and what all kinds have in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from stillroom.demo.fan import Setting
from stillroom.demo.sweeps import Row
from stillroom.vocabulary import from_si


@dataclass(frozen=True)
class Column:
    """One column of an export: its words, the quantity, its unit and the decimals printed."""

    words: str
    quantity: str
    unit: str
    digits: int

    @property
    def header(self) -> str:
        """Words and unit."""
        return f"{self.words} [{self.unit}]" if self.unit else self.words


NOZZLES, POINT, DATE, CLOCK = "nozzles", "point", "date", "clock"
TEXTS = (NOZZLES, DATE, CLOCK)
"""Columns that hold words."""

_ROOM = (
    Column("p_baro", "barometric_pressure", "hPa", 1),
    Column("t_air", "temperature", "°C", 2),
    Column("rh", "relative_humidity", "%", 1),
)
_FAN = (
    Column("speed", "speed", "rpm", 0),
    Column("U", "voltage", "V", 3),
    Column("I", "current", "A", 4),
)
CHAMBER_COLUMNS = (
    Column("time", "time", "s", 0),
    Column("p_s", "static_pressure", "Pa", 2),
    Column("dp nozzle", "nozzle_pressure", "Pa", 2),
    Column(NOZZLES, NOZZLES, "", 0),
    *_ROOM,
    *_FAN,
)
OBSTACLE_COLUMNS = (
    Column("time", "time", "s", 0),
    Column("pressure drop", "resistance_pressure", "Pa", 2),
    *CHAMBER_COLUMNS[2:4],
    *_ROOM,
)
DUTY_COLUMN = Column("duty", "duty", "%", 0)
FREQUENCY_COLUMN = Column("PWM frequency", "pwm_frequency", "Hz", 0)
LOCAL_COLUMNS = (
    Column("Messpunkt", POINT, "", 0),
    Column("statischer Druck", "static_pressure", "Pa", 2),
    Column("Wirkdruck", "nozzle_pressure", "Pa", 2),
    Column("Düsen", NOZZLES, "", 0),
    Column("Luftdruck", "barometric_pressure", "hPa", 1),
    Column("Lufttemperatur", "temperature", "°C", 2),
    Column("Luftfeuchte", "relative_humidity", "%", 1),
    Column("Drehzahl", "speed", "1/min", 0),
    Column("Spannung", "voltage", "V", 3),
    Column("Strom", "current", "mA", 1),
)
"""As the second operator's logger names them."""


def duct_columns(label: str) -> tuple[Column, ...]:
    """The columns of the simple rig, with its airflow in the unit `label`."""
    return (
        Column("time", "time", "s", 0),
        Column("Airflow", "flow", label, 2),
        Column("Static pressure", "static_pressure", "mmH2O", 3),
        Column("Speed", "speed", "rpm", 0),
    )


@dataclass(frozen=True)
class Sweep:
    """One sweep as it is to be saved.

    Parameters
    ----------
    rows : readings in SI. columns : in which it is shown. setting : as written down; None for an obstacle.
    start : of its first reading. down : whether it ends at shut-off.
    again : whether it repeats the mounting's first setting at its end.
    zeros : of the pressure gauge before and after it [Pa], where they were written down.
    """

    rows: tuple[Row, ...]
    columns: tuple[Column, ...]
    setting: Setting | None
    start: datetime
    down: bool = False
    again: bool = False
    zeros: tuple[float, float] | None = None


@dataclass(frozen=True)
class Head:
    """What a logger writes above the readings: the fan as the operator typed it, sample, operator."""

    fan: str
    sample: str
    operator: str
    rig: str = "chamber"
    words: dict[str, str] = field(default_factory=dict)


def write_comma(path: Path, sweep: Sweep) -> None:
    """Comma-separated UTF-8 with the units in the headers."""
    lines = [[POINT, *(each.header for each in sweep.columns)]]
    for number in range(len(sweep.rows)):
        lines.append([str(number + 1), *(cell(sweep, number, each) for each in sweep.columns)])
    save(path, "".join(",".join(line) + "\n" for line in lines), "utf-8")


def cell(sweep: Sweep, number: int, column: Column) -> str:
    """A reading as it is printed, with a decimal point."""
    row = sweep.rows[number]
    if column.quantity == POINT:
        return str(number + 1)
    if column.quantity == NOZZLES:
        return row.nozzles
    if column.quantity in {DATE, CLOCK}:
        now = moment(sweep, number)
        return f"{now:%d.%m.%Y}" if column.quantity == DATE else f"{now:%H:%M:%S}"
    return f"{value(row, column):.{column.digits}f}"


def value(row: Row, column: Column) -> float:
    """A reading in the column's unit."""
    return from_si(row.values[column.quantity], column.unit)


def moment(sweep: Sweep, number: int) -> datetime:
    """When a reading was taken."""
    return sweep.start + timedelta(seconds=20 * number)


def save(path: Path, text: str, encoding: str) -> None:
    """Write a text file with its folder."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode(encoding))


def rows_of(sweeps: Iterable[Sweep]) -> Sequence[tuple[Sweep, int]]:
    """Every reading of several sweeps, in order."""
    return [(sweep, number) for sweep in sweeps for number in range(len(sweep.rows))]
