"""Understand a measurement file: its tables, what each column holds, in which unit, how numbers are written.

What is recognised is shown, and can be corrected by overrides (`overrides.py`). A unit that isn't stated
is never guessed, nor is a decimal mark or the order of a date that can be read in two ways.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.readers.grids.grid import Grid
from stillroom.readers.grids.starts import LeftOut
from stillroom.readers.layout import EMPTY, SAME, Layout
from stillroom.readers.meaning.decided import UNTOLD, Decided
from stillroom.readers.meaning.deciding import decide
from stillroom.readers.meaning.doubtful import check_beside, check_footers, check_unit_notes
from stillroom.readers.meaning.found_tables import (
    FoundTable,
    foremost,
    may_be_measured,
    tables_of,
    why_passed,
)
from stillroom.readers.meaning.overrides import Said, said_of
from stillroom.readers.meaning.previewing import in_words
from stillroom.readers.meaning.wide import (
    WideTable,
    ask_units,
    decide_wide,
    layout_of,
    missing_in,
    wide_tables,
    wide_words,
)
from stillroom.readers.reading.means import WHY as MEAN
from stillroom.readers.reading.means import mean_in_cells
from stillroom.readers.reading.recording import kind_in_time, read
from stillroom.readers.reading.twins import same_values
from stillroom.readers.source import Source
from stillroom.readers.words.bands import are_even, hertz_cells
from stillroom.readers.words.dates import is_date, order_of
from stillroom.readers.words.headers import (
    DATE,
    TEXT_COLUMNS,
    TIME,
    quantities_for,
    split_header,
)
from stillroom.readers.words.kinds import (
    HEAT_QUANTITIES,
    Kind,
    kind_of,
    sheet_without_time,
)
from stillroom.readers.words.marks import Marks, marks_of
from stillroom.readers.words.numbers import parse_numbers, part_unit
from stillroom.vocabulary import BY_NAME

_SHOWN = 8


@dataclass(frozen=True)
class MissingUnit:
    """A column whose unit the file doesn't state: what to ask for.

    Parameters
    ----------
    header : the column's header.
    quantities : what the header can stand for.
    option : the text to pass to `--as`, with the usual unit as example.
    """

    header: str
    quantities: tuple[str, ...]
    option: str


@dataclass(frozen=True)
class Understanding:
    """What was understood of one table.

    Parameters
    ----------
    layout : how to read it.
    kind : what kind of measurement it is.
    notes : the "key: value" lines above it; titles under "title".
    words : what was understood, one sentence each, for a preview.
    """

    layout: Layout
    kind: Kind
    notes: dict[str, str]
    words: tuple[str, ...]


@dataclass(frozen=True)
class FileUnderstanding:
    """What was understood of a whole file.

    Parameters
    ----------
    blocks : its measurement tables, at least one, in the file's order (sheets in order).
    passed_over : sheets, tables and lines that hold no measurement, and why, in words.
    """

    blocks: tuple[Understanding, ...]
    passed_over: tuple[str, ...] = ()


def understand(source: Source, overrides: Mapping[str, str] | None = None) -> FileUnderstanding:
    """Understand a measurement file, or say what is missing.

    Parameters
    ----------
    source : the file.
    overrides : corrections by hand, as `overrides.py` describes them.

    Raises
    ------
    UnreadableFile : binary, damaged, empty, or without a header.
    UnknownUnit : a unit is unknown, or a column has none; says what to pass.
    Contradiction : two columns hold one quantity with different values, or a column's unit doesn't fit it.
    BadInput : the columns of no kind of measurement are complete, numbers or dates can be read in two ways,
        or an override is wrong.
    """
    said = dict(overrides or {})
    if wide := wide_tables(source, said):
        return FileUnderstanding(tuple(_wide(each, said) for each in wide))
    tables, passed = tables_of(source, said)
    wanted = [each for each in tables if len(tables) == 1 or may_be_measured(each, said)]
    wanted = foremost(wanted)
    if not wanted:
        wanted = tables[:1]
    passed += [why_passed(each) for each in tables if each not in wanted]
    written = said_of(source, said)
    blocks: list[Understanding] = []
    for grid in dict.fromkeys(each.grid for each in wanted):
        blocks += _understood(grid, [each for each in wanted if each.grid is grid], said, written)
    return FileUnderstanding(tuple(blocks), tuple(passed))


def _may_be_inrush(kind: Kind, layout: Layout) -> bool:
    """Whether a table may be the record of a start's current: a current in time, and nothing of a heat rig."""
    return (
        kind.is_heat
        and "current" in layout.headers
        and not any(each in layout.headers for each in HEAT_QUANTITIES)
    )


def _wide(table: WideTable, said: Mapping[str, str]) -> Understanding:
    """A table with a column for each band."""
    decided = decide_wide(table, said)
    ask_units(table, decided)
    layout = layout_of(table, decided, said)
    return Understanding(layout, Kind.BAND_LEVELS, table.notes, wide_words(table, layout))


def recognise(source: Source, overrides: Mapping[str, str] | None = None) -> Kind:
    """The kind of measurement that a file's first table holds; raises as `understand`."""
    return understand(source, overrides).blocks[0].kind


def missing_units(source: Source, overrides: Mapping[str, str] | None = None) -> tuple[MissingUnit, ...]:
    """The columns whose unit must be asked for before the file can be read; raises as `understand`."""
    said = dict(overrides or {})
    if wide := wide_tables(source, said):
        return tuple(MissingUnit(*one) for each in wide for one in missing_in(decide_wide(each, said)))
    tables, _ = tables_of(source, said)
    wanted = [each for each in tables if may_be_measured(each, said)] or tables[:1]
    found = [each for table in wanted for each in _missing(_decided(table, said))]
    return tuple(dict.fromkeys(found))


def _decided(table: FoundTable, said: Mapping[str, str]) -> list[Decided]:
    return decide(table.grid, table.start.header, table.start.units, table.rows, said)


def _understood(
    grid: Grid, tables: Sequence[FoundTable], said: Mapping[str, str], written: Said
) -> list[Understanding]:
    """The tables of one text or sheet; how its numbers are written is told from all of them together."""
    decided = [_decided(table, said) for table in tables]
    for table, columns in zip(tables, decided, strict=True):
        _ask_units(table, columns)
    marks = marks_of(
        (cells for table, columns in zip(tables, decided, strict=True) for cells in _numbers(table, columns)),
        grid.source.name,
        decimal=written.decimal,
        thousands=written.thousands,
        points=bool(grid.sheet) or grid.delimiter == ",",
    )
    found = []
    for table, columns in zip(tables, decided, strict=True):
        check_footers(table, columns, marks)
        check_unit_notes(table, columns)
        order = _date_order(table, columns, written.dates)
        kept = _without_twins(table, columns, marks)
        check_beside(table, kept)
        found.append(_one(table, kept, marks, order, len(tables)))
    return found


def _one(
    table: FoundTable, decided: Sequence[Decided], marks: Marks, order: str, count: int
) -> Understanding:
    grid, start = table.grid, table.start
    layout = Layout(
        columns=tuple(each.column for each in decided),
        delimiter=grid.delimiter,
        decimal=marks.decimal,
        encoding=grid.encoding,
        sheet=grid.sheet,
        header_line=start.header.line,
        unit_row=start.units is not None,
        block=start.number,
        thousands=marks.thousands,
        date_order=order,
    )
    kind = _kind(layout, grid)
    if kind is Kind.BAND_LEVELS and _is_spectrum(table, decided):
        kind = Kind.NARROW_BAND
    if kind is Kind.LEVEL_SERIES and sheet_without_time({*layout.headers, "sound_level"}):
        kind = read(grid.source, layout).kind  # how far the times lie apart tells
    if TIME in layout.headers and (kind.is_control or _may_be_inrush(kind, layout)):
        kind = kind_in_time(grid.source, layout)  # and how fast a setting changes
        layout = replace(layout, log=kind.is_heat and not layout.is_log)
    notes = start.notes
    lines = [row.line for row in table.rows]
    end = -1 if kind.is_heat else mean_in_cells(_numbers(table, decided), marks)
    left_out = [*table.left_out, *(LeftOut(line, MEAN) for line in lines[end:] if end >= 0)]
    words = in_words(layout, kind, start, decided, lines[: end if end >= 0 else None], left_out, count)
    return Understanding(layout, kind, notes, words)


def _kind(layout: Layout, grid: Grid) -> Kind:
    try:
        return kind_of(layout.headers, grid.source.name)
    except BadInput as problem:
        empty = [repr(each.header) for each in layout.columns if each.left == EMPTY]
        others = [
            repr(each.header) for each in layout.columns if not (each.quantity or each.left) and each.header
        ]
        others = others[:_SHOWN] if TIME in layout.headers else []
        if not empty and not others:
            raise
        found = problem.found
        found += f"; empty in every row: {', '.join(empty)}" if empty else ""
        found += f"; columns that name no quantity: {', '.join(others)}" if others else ""
        raise BadInput(problem.thing, place=problem.place, found=found, expected=problem.expected) from None


def _is_spectrum(table: FoundTable, decided: Sequence[Decided]) -> bool:
    """Whether the frequencies of a table rise in even steps; what isn't told by them is told when it is read."""
    index = next(i for i, each in enumerate(decided) if each.column.quantity == "frequency")
    numbers, bad = parse_numbers(hertz_cells(_cells(table, index)))
    return bad < 0 and are_even(numbers.tolist())


def _ask_units(table: FoundTable, decided: Sequence[Decided]) -> None:
    missing = _missing(decided)
    if missing:
        raise UnknownUnit(
            "unit",
            place=table.place,
            found="none for " + ", ".join(repr(each.header) for each in missing),
            expected=" ".join(f"--as {each.option!r}" for each in missing),
        )


def _missing(decided: Sequence[Decided]) -> tuple[MissingUnit, ...]:
    missing = []
    for each in decided:
        column = each.column
        told = column.unit or (column.quantity in TEXT_COLUMNS and each.where != UNTOLD)
        if not column.quantity or told:
            continue
        names = tuple(one.name for one in quantities_for(split_header(column.header).name))
        known = BY_NAME[column.quantity]
        option = f"unit:{column.header}={known.shown or known.unit}"
        missing.append(MissingUnit(column.header, names or (known.name,), option))
    return tuple(missing)


def _cells(table: FoundTable, index: int) -> list[str]:
    return [row.cells[index] if index < len(row.cells) else "" for row in table.rows]


def _numbers(table: FoundTable, decided: Sequence[Decided]) -> list[list[str]]:
    """The cells of every column that is read as numbers, without units."""
    found = []
    for index, each in enumerate(decided):
        if each.column.unit:
            cells = _cells(table, index)
            found.append([part_unit(cell)[0] for cell in cells] if each.column.in_cells else cells)
    return found


def _date_order(table: FoundTable, decided: Sequence[Decided], said: str) -> str:
    orders = set()
    for index, each in enumerate(decided):
        if each.column.quantity in {TIME, DATE} and not each.column.unit:
            orders.add(
                order_of(_cells(table, index), table.place, f"dates of column {each.column.header!r}", said)
            )
    orders.discard("")
    if len(orders) > 1:
        raise Contradiction(
            "dates", place=table.place, found=", ".join(sorted(orders)), expected="one order in a table"
        )
    in_notes = said if any(is_date(each) for each in table.start.notes.values()) else ""
    return next(iter(orders), in_notes)


def _without_twins(table: FoundTable, decided: Sequence[Decided], marks: Marks) -> list[Decided]:
    """Leave out columns that repeat another one.

    Raises
    ------
    Contradiction : two columns hold one quantity with different values.
    """
    kept: dict[str, int] = {}
    result = list(decided)
    for index, each in enumerate(decided):
        column = each.column
        if not column.quantity:
            continue
        first = kept.setdefault(column.quantity, index)
        if first == index:
            continue
        one = decided[first].column
        differs = _differs(table, first, one.unit, index, column.unit, marks)
        if differs >= 0:
            place = table.grid.place(table.rows[differs].line) if table.rows else table.place
            raise Contradiction(
                f"columns {first + 1} ({one.header!r}) and {index + 1} ({column.header!r})",
                place=place,
                found=f"both hold {column.quantity}, with different values",
                expected=f"one of them, or --as 'column:{column.header}=none'",
            )
        left = replace(column, quantity="", in_cells=False, left=f"{SAME}{first + 1}")
        result[index] = Decided(left, each.where)
    return result


def _differs(
    table: FoundTable, first: int, first_unit: str, second: int, second_unit: str, marks: Marks
) -> int:
    """The first row whose two cells differ, or -1; without readings nothing shows that they agree."""
    one, other = _cells(table, first), _cells(table, second)
    if not table.rows:
        return 0
    if not first_unit or not second_unit:
        pairs = enumerate(zip(one, other, strict=True))
        return next((i for i, (a, b) in pairs if a.strip() != b.strip()), -1)
    return same_values(one, first_unit, other, second_unit, marks)
