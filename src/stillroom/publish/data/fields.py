"""A published table and its columns: each column with its words, unit, definition, type and constraints.

A column that shows a field of a record, a quantity of the vocabulary or a measure takes its words and unit from there:
there is no second definition of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.publish.data.cells import Cell
from stillroom.records.fields import Column, columns
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

Row = Mapping[str, Cell]
Constraints = Mapping[str, Any]

REQUIRED: Constraints = {"required": True}
NONE: Constraints = {}
AT_LEAST_ZERO: Constraints = {"minimum": 0}


@dataclass(frozen=True)
class Field:
    """One column of a published table.

    Parameters
    ----------
    name : in the file's header. title : as a reader sees it, without unit. description : what it is.
    type : of the Table Schema: string, number, integer, boolean or date.
    unit : of its numbers, "" where it has none, or where another column tells it.
    definition : how the quantity or measure is defined. constraints : of the Table Schema.
    """

    name: str
    title: str
    description: str
    type: str = "string"
    unit: str = ""
    definition: str = ""
    constraints: Constraints = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """The field's descriptor; what it doesn't have is left out."""
        told: dict[str, Any] = {
            "name": self.name,
            "title": self.title,
            "description": self.description,
            "type": self.type,
            "unit": self.unit,
            "definition": self.definition,
            "constraints": dict(self.constraints),
        }
        return {name: value for name, value in told.items() if value not in ("", {})}


@dataclass(frozen=True)
class Link:
    """A foreign key: some fields of a table that name a row of another."""

    fields: tuple[str, ...]
    table: str
    there: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A published table.

    Parameters
    ----------
    name : of its file, without ending. title, description : for readers.
    fields : its columns. rows : by the names of the columns; a column that a row leaves out is empty there.
    key : the columns that tell a row from all others; () where none do. links : to other tables.
    """

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    rows: tuple[Row, ...]
    key: tuple[str, ...] = ()
    links: tuple[Link, ...] = ()

    @property
    def header(self) -> tuple[str, ...]:
        """The names of its columns."""
        return tuple(each.name for each in self.fields)

    def cells(self) -> Iterable[tuple[Cell, ...]]:
        """Its rows as cells.

        Raises
        ------
        KeyError : a row that tells something for which there is no column.
        """
        known = frozenset(self.header)
        for row in self.rows:
            if not known.issuperset(row):
                raise KeyError(f"{self.name}: no column {sorted(set(row) - known)}")
            yield tuple(row.get(name) for name in self.header)

    def schema(self) -> dict[str, Any]:
        """The table's schema, as the Table Schema specification has it."""
        told: dict[str, Any] = {
            "fields": [each.as_dict() for each in self.fields],
            "missingValues": [""],
        }
        if self.key:
            told["primaryKey"] = list(self.key)
        if self.links:
            told["foreignKeys"] = [
                {
                    "fields": list(each.fields),
                    "reference": {"resource": each.table, "fields": list(each.there)},
                }
                for each in self.links
            ]
        return told


_TYPES = {"text": "string", "number": "number", "whole": "integer", "yes-no": "boolean"}


def of_record(record: type[Any], *names: str, **constraints: Constraints) -> tuple[Field, ...]:
    """Columns that show fields of a record, in the units of its tables; by the record's own words.

    Parameters
    ----------
    names : of the fields; a required field is required here too. constraints : further ones, by name.
    """
    told = {each.field: each for each in columns(record)}
    return tuple(
        Field(
            name,
            told[name].header,
            f"As the record of the {record.kind} tells it.",
            _TYPES[told[name].type],
            told[name].shown,
            constraints={**(REQUIRED if told[name].required else {}), **constraints.get(name, {})},
        )
        for name in names
    )


def row_of(record: Any, *names: str) -> dict[str, Cell]:
    """The fields of a record as a row, in the units of its tables."""
    told = {each.field: each for each in columns(type(record))}
    return {name: _shown(told[name], getattr(record, name)) for name in names}


def _shown(column: Column, value: Any) -> Cell:
    if column.unit == column.shown or not isinstance(value, float):
        found: Cell = value
        return found
    return float(f"{from_si(value, column.shown):.12g}")


def of_quantity(
    name: str,
    quantity: str,
    units: dict[str, str],
    *,
    title: str = "",
    description: str = "",
    constraints: Constraints = NONE,
) -> Field:
    """A column of numbers of a quantity of the vocabulary, in the unit that the lab shows.

    Parameters
    ----------
    units : {dimension: unit shown} of the lab. title : the quantity's label where none is given.
    """
    told = BY_NAME[quantity]
    return Field(
        name,
        title or told.label,
        description or f"{told.label}.",
        "number",
        shown_unit(told, units),
        f"{told.label}, {told.symbol}; in SI units {told.unit}.",
        constraints,
    )
