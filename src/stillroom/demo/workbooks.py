"""Sweeps as workbooks: one sheet a sweep below a merged title, or all sweeps on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from stillroom.demo.containers import Sheet, Value, write_ods, write_xlsx
from stillroom.demo.exports import CLOCK, NOZZLES, POINT, Column, Head, Sweep, moment, rows_of, value


def write_workbook(path: Path, sweeps: Sequence[Sweep], head: Head) -> None:
    """XLSX: an overview with a merged title and the day as a date, then a sheet for each sweep."""
    width = len(sweeps[0].columns)
    overview = Sheet(
        "Overview",
        [
            ["Airflow chamber, record of a mounting"],
            [],
            ["Fan", head.fan],
            ["Sample", head.sample],
            ["Day", sweeps[0].start.date()],
            ["Operator", head.operator],
        ],
        merged=((0, 7),),
    )
    write_xlsx(
        path, [overview, *(_sweep_sheet(i, each, head, width) for i, each in enumerate(sweeps, start=1))]
    )


def write_spreadsheet(path: Path, sweeps: Sequence[Sweep], head: Head) -> None:
    """ODS: all sweeps of a mounting on one sheet below a merged title, and a sheet of notes."""
    columns = sweeps[0].columns
    rows: list[Sequence[Value]] = [[f"{head.fan} {head.sample}", *[None] * (len(columns) - 1)], []]
    rows.append([each.header for each in columns])
    rows += [[_value(sweep, number, each) for each in columns] for sweep, number in rows_of(sweeps)]
    notes = Sheet(
        "Notes",
        [
            ["Operator", head.operator],
            ["Day", sweeps[0].start.date()],
            ["Supply at the connector checked", "yes"],
        ],
    )
    write_ods(path, [Sheet("Readings", rows, merged=((0, len(columns) - 1),)), notes])


def _sweep_sheet(number: int, sweep: Sweep, head: Head, width: int) -> Sheet:
    """Title, moment, headers, a row of units, readings."""
    setting = sweep.setting.words if sweep.setting else ""
    rows: list[Sequence[Value]] = [
        [f"{head.fan} {head.sample} at {setting}", *[None] * (width - 1)],
        ["Begun", sweep.start],
        [],
        [each.words for each in sweep.columns],
        [each.unit for each in sweep.columns],
    ]
    rows += [[_value(sweep, i, each) for each in sweep.columns] for i in range(len(sweep.rows))]
    return Sheet(f"Sweep {number}", rows, merged=((0, width - 1),))


def _value(sweep: Sweep, number: int, column: Column) -> Value:
    if column.quantity == POINT:
        return number + 1
    if column.quantity == NOZZLES:
        return sweep.rows[number].nozzles
    if column.quantity == CLOCK:
        return moment(sweep, number)
    return round(value(sweep.rows[number], column), column.digits)
