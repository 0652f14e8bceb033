"""All tables of a file, measurements or not, with their readings and the lines that are none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.errors import StillroomError
from stillroom.readers.grids.blocks import Walk
from stillroom.readers.grids.grid import Grid, Row, refuse_without_rows
from stillroom.readers.grids.locating import locate, locate_log
from stillroom.readers.grids.starts import LeftOut, Start, without_last_blanks
from stillroom.readers.meaning.deciding import possible
from stillroom.readers.meaning.heat import Family, family_of, is_certain
from stillroom.readers.meaning.overrides import LEAVE_OUT, grids
from stillroom.readers.reading.recording import ROWS_UNDERSTOOD
from stillroom.readers.source import Source
from stillroom.readers.words.headers import quantities_for, split_header, squeeze, text_column_for
from stillroom.readers.words.kinds import REQUIRED, may_be_airflow, may_be_control
from stillroom.readers.workbooks.workbook import passed_over


@dataclass
class FoundTable:
    """One table with its readings and the lines that are none."""

    grid: Grid
    start: Start
    rows: list[Row] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)

    @property
    def place(self) -> str:
        """Where it stands, for messages."""
        return self.grid.place(self.start.header.line)


def tables_of(source: Source, said: Mapping[str, str]) -> tuple[list[FoundTable], list[str]]:
    """All tables of a file, and why sheets are passed over.

    Raises
    ------
    StillroomError : a text, or every sheet, holds no table; a sheet that holds one is damaged.
    """
    several = grids(source, said)
    passed = list(passed_over(source)) if source.is_workbook and "sheet" not in said else []
    tables: list[FoundTable] = []
    without: list[Grid] = []
    extra = frozenset(
        squeeze(key.partition(":")[2])
        for key, value in said.items()
        if key.startswith("column:") and value.strip().casefold() not in LEAVE_OUT
    )
    for grid in several:
        found = _walked(grid, Walk(grid, extra=extra))
        tables += found
        if not found:
            without.append(grid)
    for grid in without:
        try:
            refuse_without_rows(grid)
            header = locate_log(grid) or locate(grid).header
            found = _walked(grid, Walk(grid, header=header.cells))
        except StillroomError as problem:
            if grid is without[-1] and not tables:
                raise
            passed.append(f"sheet {grid.sheet!r}: {problem.thing}: found {problem.found}")
        else:
            tables += found
    return tables, passed


def _walked(grid: Grid, walk: Walk) -> list[FoundTable]:
    tables: list[FoundTable] = []
    for seen, each in enumerate(walk):
        if isinstance(each, Start):
            tables.append(FoundTable(grid, each))
        elif isinstance(each, Row):
            tables[-1].rows.append(each)
        else:
            tables[-1].left_out.append(each)
        if seen > ROWS_UNDERSTOOD:
            break
    for table in tables:
        table.left_out = without_last_blanks(table.left_out, table.rows[-1].line if table.rows else 0)
    return tables


def may_be_measured(table: FoundTable, said: Mapping[str, str]) -> bool:
    """Whether a table's names can make up a measurement at all."""
    names = possible(table.start.header)
    for key, value in said.items():
        if key.startswith("column:"):
            names |= {value, text_column_for(value), *(each.name for each in quantities_for(value))}
    return bool(table.rows) and any(all(name in names for name in required) for _, required in REQUIRED)


def foremost(tables: Sequence[FoundTable]) -> list[FoundTable]:
    """Of several tables those of one kind of rig: a small table of levels, settings or the room's air beside a
    chamber's is no measurement, nor is the room's beside levels.
    """
    rank: dict[int, list[FoundTable]] = {}
    for each in tables:
        names = possible(each.start.header)
        headers = [split_header(cell) for cell in each.start.header.cells]
        if may_be_airflow(names):
            place = 0
        elif family_of(headers, names, ()) is Family.OTHER or is_certain(headers):
            place = 2 if may_be_control(names) else 1
        else:
            place = 2
        rank.setdefault(place, []).append(each)
    return rank[min(rank)] if rank else []


def why_passed(table: FoundTable) -> str:
    """Why a table is passed over, in words."""
    names = ", ".join(cell.strip() for cell in table.start.header.cells if cell.strip())[:120]
    why = "its columns are no measurement's" if table.rows else "no readings under its header"
    return f"{table.place}: table {table.start.number} ({names}): {why}"
