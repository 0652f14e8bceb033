"""The records that tables and rig files tell: fans, samples, run tables, instruments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from stillroom.lab.batch import File
from stillroom.readers.cells import Cell
from stillroom.readers.rigs import read_rigs
from stillroom.readers.tables import TableKind, read_table
from stillroom.records.fields import Column, columns, from_json
from stillroom.records.kinds import KINDS, TABLES

Told = list[tuple[Any, str, str]]
"""Records with the file and the place that they come from."""


def table_kinds() -> tuple[TableKind, ...]:
    """The tables that a lab may bring in, from the records' own fields."""
    return tuple(
        TableKind(
            record.kind,
            tuple(each.header for each in columns(record) if each.required),
            tuple(each.header for each in columns(record) if not each.required),
        )
        for record in TABLES
    )


def records_of_rigs(file: File) -> Told:
    """The rigs, instruments, calibrations and nozzles of a TOML file; raises as `read_rigs`."""
    found = []
    for entry in read_rigs(file.source):
        record = KINDS[entry.kind]
        known = {each.field for each in columns(record)}
        body = {name: value for name, value in entry.fields.items() if name in known}
        found.append((from_json(record, body), file.name, entry.place))
    return found


def records_of_table(file: File, record: type[Any], kinds: Sequence[TableKind]) -> Told:
    """The rows of a table as records; raises as `read_table`."""
    table = read_table(file.source, kinds, kind=record.kind)
    found = []
    for row, line in zip(table.rows, table.lines, strict=True):
        body = {
            each.field: _cell(each, row[each.header])
            for each in columns(record)
            if each.header in row and not row[each.header].empty
        }
        found.append((from_json(record, body), file.name, f"{file.name}, line {line}"))
    return found


_DATES = ("date", "bought", "due")


def _cell(column: Column, cell: Cell) -> Any:
    """One cell of a table as the value of its field."""
    if column.field in _DATES:
        return cell.date()
    if column.field == "time":
        return cell.time()
    if column.type == "number":
        return cell.number(column.unit)
    if column.type == "whole":
        return cell.whole()
    if column.type == "yes-no":
        return cell.yes_no()
    return cell.names() if column.type == "names" else cell.text
