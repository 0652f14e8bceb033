"""The records that tables and rig files tell: fans, samples, run tables, instruments."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.intake.batch import File
from stillroom.lab.intake.told_heat import FIELDS as HEAT_FIELDS
from stillroom.lab.intake.told_heat import check_heat, end_of_step
from stillroom.lab.intake.told_publishing import check_dispute, check_round, margin_told
from stillroom.lab.intake.told_settings import BOUNDS, check_setting
from stillroom.lab.intake.told_sound import FIELDS as SOUND_FIELDS
from stillroom.lab.intake.told_sound import check_sound
from stillroom.readers.registers.cells import Cell
from stillroom.readers.registers.rigs import read_rigs
from stillroom.readers.registers.tables import TableKind, read_table
from stillroom.records.acts import Run, Step
from stillroom.records.fields import Column, columns, from_json
from stillroom.records.kinds import KINDS, TABLES
from stillroom.records.publishing import Dispute, Round

Told = list[tuple[Any, str, str]]
"""Records with the file and the place that they come from."""


def table_kinds() -> tuple[TableKind, ...]:
    """The tables that a lab may bring in, from the records' own fields."""
    return tuple(
        TableKind(
            record.kind,
            tuple(each.header for each in columns(record) if each.required),
            tuple(each.header for each in columns(record) if not each.required),
            getattr(record, "one_of", ()),
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


def records_of_table(
    file: File, record: type[Any], kinds: Sequence[TableKind]
) -> tuple[Told, tuple[str, ...]]:
    """The rows of a table as records, and the headers that such a table doesn't have; raises as `read_table`.

    Raises
    ------
    Contradiction : two rows say different things of one. BadInput : a setting that nobody can mean.
    """
    table = read_table(file.source, kinds, kind=record.kind)
    found: Told = []
    first: dict[str, Any] = {}
    for row, line in zip(table.rows, table.lines, strict=True):
        body = {
            each.field: _cell(each, row[each.header])
            for each in columns(record)
            if each.header in row and not row[each.header].empty
        }
        made, place = from_json(record, body), f"{file.name}, line {line}"
        _check_row(made, row, first.setdefault(made.name, made), place)
        found.append((made, file.name, place))
    return found, table.left_out


def _check_row(made: Any, row: Mapping[str, Cell], first: Any, place: str) -> None:
    """Refuse a row that says of one thing what another row says otherwise, or a setting nobody can mean.

    Raises
    ------
    Contradiction, BadInput : names the row.
    """
    if made != first:
        found = f"{made.name!r} twice, with different cells"
        raise Contradiction(f"table of {made.kind}", place=place, found=found, expected="one row for each")
    for name in BOUNDS if isinstance(made, Run) else ():
        value = getattr(made, name)
        if value is not None:
            check_setting(name, value, row[name].place, row[name].text)
    for column in columns(Run) if isinstance(made, Run) else ():
        value = getattr(made, column.field)
        if value is not None and column.field in SOUND_FIELDS:
            check_sound(column.field, value, row[column.header].place, row[column.header].text)
        elif value is not None and column.field in HEAT_FIELDS:
            check_heat(column.field, value, row[column.header].place, row[column.header].text)
    if isinstance(made, Step):
        _check_step(made, row, place)
    elif isinstance(made, Round):
        check_round(made, row)
    elif isinstance(made, Dispute):
        check_dispute(made, row)


def _check_step(step: Step, row: Mapping[str, Cell], place: str) -> None:
    """Refuse a step that nobody can mean: a number below 1, two settings, ends that are none or in the wrong order.

    Raises
    ------
    BadInput, Contradiction : names the cell.
    """
    if step.step < 1:
        raise BadInput("step", place=row["step"].place, found=str(step.step), expected="a number from 1")
    told = [name for name in BOUNDS if getattr(step, name) is not None]
    for name in told:
        check_setting(name, getattr(step, name), row[name].place, row[name].text)
    if len(told) > 1:
        raise Contradiction("step", place=place, found=" and ".join(told), expected="one setting a step")
    if not step.of:
        expected = "its session or mounting, or fan and sample"
        raise BadInput("step", place=place, found="nothing that tells of which run it is", expected=expected)
    if step.noise is not None and not 0.0 <= step.noise <= LOUDEST:
        cell = row["noise"]
        expected = f"0 to {LOUDEST:g} dBA"
        raise BadInput("column 'noise'", place=cell.place, found=repr(cell.text), expected=expected)
    _check_ends(step, row, place)


LOUDEST = 120.0
"""No set list chooses a setting for more [dB(A)]."""

HALF_A_DAY = 43_200.0


def _check_ends(step: Step, row: Mapping[str, Cell], place: str) -> None:
    """Refuse ends of a step that are none, of two kinds, or in the wrong order; a clock may pass midnight."""
    ends: list[tuple[str, float]] = []
    for header, text in (("from", step.start), ("to", step.stop)):
        end = end_of_step(text) if text else None
        if text and end is None:
            expected = "a clock time such as 09:31:00, or minutes since the start such as 15"
            raise BadInput(f"column {header!r}", place=row[header].place, found=repr(text), expected=expected)
        ends += [end] if end else []
    if step.stop and not step.start:
        expected = "also where it begins, under 'from'"
        raise BadInput("step", place=place, found=f"an end alone, {step.stop}", expected=expected)
    if not (step.start and step.stop):
        return
    found = f"{step.start} to {step.stop}"
    (kind, first), (other, last) = ends
    if kind != other:
        raise Contradiction("step", place=place, found=found, expected="two clock times, or minutes twice")
    dated = "-" in step.start and "-" in step.stop
    over_midnight = kind == "clock" and not dated and first - last > HALF_A_DAY
    first_day, last_day = (step.start[:10], step.stop[:10]) if dated else ("", "")
    if not ((first_day, first) < (last_day, last) or over_midnight):
        found += " min" if kind == "minutes" else ""
        raise Contradiction("step", place=place, found=found, expected="an end after the start")


_NAMES = frozenset({"fan", "sample", "mounting", "rig", "session", "logger", "obstacle", "radiator", "round"})
"""Fields by which things are named: what is written there is printed, and put on charts."""

_DATES = ("date", "bought", "due", "coolant_filled", "since", "reply_date")


def _cell(column: Column, cell: Cell) -> Any:
    """One cell of a table as the value of its field."""
    if column.field in _DATES:
        return cell.date()
    if column.field == "time":
        return cell.time()
    if column.field == "margin":
        return margin_told(cell)
    if column.type == "number":
        return cell.number(column.unit)
    if column.type == "whole":
        return cell.whole()
    if column.type == "yes-no":
        return cell.yes_no()
    if column.field in _NAMES and any(unicodedata.category(each)[0] == "C" for each in cell.text):
        expected = "a name without signs that don't show (line breaks, control signs)"
        raise BadInput(f"column {cell.header!r}", place=cell.place, found=ascii(cell.text), expected=expected)
    return cell.names() if column.type == "names" else cell.text
