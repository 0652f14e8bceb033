"""Turns rows of readings into export files as rigs write them: three layouts, one for each habit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from stillroom.demo.sweeps import Row
from stillroom.vocabulary import from_si


class Layout(Enum):
    """How a file is laid out: (separator, unit row?, suffix)."""

    COMMA = (",", False, "csv")
    UNIT_ROW = (",", True, "csv")
    TABS = ("\t", False, "tsv")

    @property
    def suffix(self) -> str:
        """The end of the file's name."""
        return self.value[2]


@dataclass(frozen=True)
class Column:
    """One column of an export: its words, the quantity, its unit and the decimals printed."""

    words: str
    quantity: str
    unit: str
    digits: int


NOZZLES = "nozzles"
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


def duct_columns(label: str) -> tuple[Column, ...]:
    """The columns of the simple rig, with its airflow in the unit `label`."""
    return (
        Column("time", "time", "s", 0),
        Column("Airflow", "flow", label, 2),
        Column("Static pressure", "static_pressure", "mmH2O", 3),
        Column("Speed", "speed", "rpm", 0),
    )


def write_export(path: Path, rows: Iterable[Row], columns: tuple[Column, ...], layout: Layout) -> None:
    """Write one sweep.

    Parameters
    ----------
    path : of the file; its folder is made.
    rows : in SI.
    columns : in order, after the point's number.
    """
    separator, unit_row, _ = layout.value
    if unit_row:
        lines = [["point", *(each.words for each in columns)], ["", *(each.unit for each in columns)]]
    else:
        lines = [["point", *(f"{c.words} [{c.unit}]" if c.unit else c.words for c in columns)]]
    for number, row in enumerate(rows, start=1):
        lines.append([str(number), *(_cell(row, each) for each in columns)])
    path.parent.mkdir(parents=True, exist_ok=True)
    text = "".join(separator.join(line) + "\n" for line in lines)
    path.write_text(text, encoding="utf-8", newline="\n")


def _cell(row: Row, column: Column) -> str:
    if column.quantity == NOZZLES:
        return row.nozzles
    return f"{from_si(row.values[column.quantity], column.unit):.{column.digits}f}"
