"""One definition of a record's field: its words, unit and type; everything else is derived from it.

From a field come the column of the database table, the header of a lab's table, the member of the JSON
object and the row of the documentation.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.errors import BadInput

Scalar = str | int | float | bool | None
Json = Scalar | list[Any] | dict[str, Any]


@dataclass(frozen=True)
class Column:
    """One field of a record as tables, JSON and documentation see it.

    Parameters
    ----------
    field : the name in code, in JSON and in the database.
    header : the words in a table's header, without the unit.
    unit : the SI unit of a number, or "".
    shown : the unit that the documentation and exports use, or "".
    type : text, number, whole, yes-no, names or json.
    required : whether a table must hold it.
    """

    field: str
    header: str
    unit: str
    shown: str
    type: str
    required: bool


def told(header: str, *, unit: str = "", shown: str = "", required: bool = False) -> Any:
    """A record's field with its words; an optional field is None (or empty) where nothing was told."""
    metadata = {"header": header, "unit": unit, "shown": shown or unit, "required": required}
    if required:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=None, metadata=metadata)


_TYPES = {"str": "text", "float": "number", "int": "whole", "bool": "yes-no"}


def _type_word(annotation: object) -> str:
    base = annotation
    if isinstance(annotation, types.UnionType):
        base = next(each for each in typing.get_args(annotation) if each is not type(None))
    if typing.get_origin(base) is tuple:
        return "names"
    return _TYPES.get(base.__name__, "json") if isinstance(base, type) else "json"


def columns(record: type[Any]) -> tuple[Column, ...]:
    """The columns of a record's table, in order."""
    known = _COLUMNS.get(record)
    if known is None:
        known = _COLUMNS[record] = _columns(record)
    return known


_COLUMNS: dict[type[Any], tuple[Column, ...]] = {}


def _columns(record: type[Any]) -> tuple[Column, ...]:
    hints = typing.get_type_hints(record)
    return tuple(
        Column(
            field=each.name,
            header=str(each.metadata.get("header", each.name)),
            unit=str(each.metadata.get("unit", "")),
            shown=str(each.metadata.get("shown", "")),
            type=_type_word(hints[each.name]),
            required=bool(each.metadata.get("required", False)),
        )
        for each in dataclasses.fields(record)
    )


def as_json(record: Any) -> dict[str, Json]:
    """A record as a JSON object in SI; fields that were not told are left out."""
    body: dict[str, Json] = {}
    for column in columns(type(record)):
        value = getattr(record, column.field)
        if value is None or value == ():
            continue
        body[column.field] = list(value) if column.type == "names" else value
    return body


def from_json(record: type[Any], body: Mapping[str, Any]) -> Any:
    """A record from its JSON object.

    Raises
    ------
    BadInput : a required field is missing.
    """
    values: dict[str, Any] = {}
    for column in columns(record):
        value = body.get(column.field)
        if value is None:
            if column.required:
                raise BadInput(
                    f"{record.kind} record", found=f"no {column.header!r}", expected=f"a {column.header}"
                )
            continue
        values[column.field] = tuple(value) if column.type == "names" else value
    return record(**values)


def table_header(record: type[Any]) -> tuple[str, ...]:
    """The header cells of a record's table, with units as people write them."""
    return tuple(each.header + (f" [{each.shown}]" if each.shown else "") for each in columns(record))


_SQL = {"text": "TEXT", "number": "REAL", "whole": "INTEGER", "yes-no": "INTEGER"}


def sql_table(record: type[Any]) -> str:
    """The statement that makes a record's table in the index."""
    lines = ["name TEXT PRIMARY KEY", "entry INTEGER NOT NULL"]
    lines += [f'"f_{each.field}" {_SQL.get(each.type, "TEXT")}' for each in columns(record)]
    return f'CREATE TABLE IF NOT EXISTS "{record.kind}" ({", ".join(lines)})'


def sql_values(record: Any) -> list[Scalar]:
    """A record's fields as the values of its row in the index."""
    values: list[Scalar] = []
    for column in columns(type(record)):
        value = getattr(record, column.field)
        if column.type in {"names", "json"} and value is not None:
            value = json.dumps(value, sort_keys=True, ensure_ascii=False)
        values.append(value)
    return values


def from_sql(record: type[Any], values: tuple[Any, ...], parse: Callable[[str], Any] = json.loads) -> Any:
    """A record from its row in the index. `parse` reads JSON; it may give equal texts the same object."""
    made: dict[str, Any] = {}
    for column, value in zip(columns(record), values, strict=True):
        if value is None:
            continue
        made[column.field] = _from_cell(column, value, parse)
    return record(**made)


def _from_cell(column: Column, value: Any, parse: Callable[[str], Any]) -> Any:
    if column.type == "names":
        return tuple(parse(value))
    if column.type == "json":
        return parse(value)
    return bool(value) if column.type == "yes-no" else value
