"""Understand a measurement file: where its header is, what each column holds, in which unit.

What is recognised is shown, and can be corrected by overrides (`overrides.py`). A unit that isn't stated
is never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.readers.grid import DELIMITER_WORDS, Grid
from stillroom.readers.headers import (
    TEXT_COLUMNS,
    Header,
    quantities_for,
    split_header,
    text_column_for,
)
from stillroom.readers.kinds import Kind, kind_of
from stillroom.readers.layout import Column, Layout, quantity_names
from stillroom.readers.locating import Located, bare, locate, notes_of
from stillroom.readers.overrides import LEAVE_OUT, by_header, grid_of
from stillroom.readers.source import Source
from stillroom.vocabulary import BY_NAME, UNITS, Quantity, is_unit, unit


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
    """What was understood of a file.

    Parameters
    ----------
    layout : how to read it.
    kind : what kind of measurement it is.
    notes : the preamble's "key: value" lines.
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
    Contradiction : two columns hold one quantity, or a column's unit doesn't fit its name.
    BadInput : the columns of no kind of measurement are complete, or an override is wrong.
    """
    grid = grid_of(source, overrides)
    found = locate(grid)
    columns = _decide(grid, found, overrides or {})
    missing = _missing(columns)
    if missing:
        raise UnknownUnit(
            "unit",
            place=grid.place(found.header.line),
            found="none for " + ", ".join(repr(each.header) for each in missing),
            expected=" ".join(f"--as {each.option!r}" for each in missing),
        )
    _refuse_twice(grid, found, columns)
    layout = Layout(
        columns=tuple(columns),
        delimiter=grid.delimiter,
        decimal=grid.decimal,
        encoding=grid.encoding,
        sheet=grid.sheet,
        header_line=found.header.line,
        unit_row=found.units is not None,
    )
    kind = kind_of(layout.headers, source.name)
    notes = notes_of(found.preamble)
    return FileUnderstanding((Understanding(layout, kind, notes, _in_words(layout, kind, found, notes)),))


def recognise(source: Source, overrides: Mapping[str, str] | None = None) -> Kind:
    """The kind of measurement that a file's first table holds; raises as `understand`."""
    return understand(source, overrides).blocks[0].kind


def missing_units(source: Source, overrides: Mapping[str, str] | None = None) -> tuple[MissingUnit, ...]:
    """The columns whose unit must be asked for before the file can be read; raises as `understand`."""
    grid = grid_of(source, overrides)
    return _missing(_decide(grid, locate(grid), overrides or {}))


def _decide(grid: Grid, found: Located, overrides: Mapping[str, str]) -> list[Column]:
    """Each column's quantity and unit; a unit that isn't stated is left empty."""
    headers = [split_header(cell) for cell in found.header.cells]
    named = by_header(grid, headers, overrides, "column:")
    given = by_header(grid, headers, overrides, "unit:")
    cells = found.units.cells if found.units else []
    columns = []
    for index, header in enumerate(headers):
        stated = cells[index].strip() if index < len(cells) else ""
        place = grid.place(found.header.line, index + 1)
        column = _column(header, stated, place, named.get(index), given.get(index))
        columns.append(column)
    return _settle_dp(headers, columns)


def _column(header: Header, stated: str, place: str, named: str | None, given: str | None) -> Column:
    column = Column(header.text, stated=stated)
    if named is not None and named.strip().casefold() in LEAVE_OUT:
        return column
    candidates, text = _candidates(header, place, named)
    if not candidates and not text:
        if given is not None:
            raise BadInput(
                f"column {header.text!r}",
                place=place,
                found="a name that stands for no quantity",
                expected=f"also --as 'column:{header.text}=QUANTITY'",
            )
        return column
    words = _stated_unit(header, bare(stated), place) if given is None else given
    if text and not (candidates and words):
        return replace(column, quantity=text)
    if not words:
        return replace(column, quantity=candidates[0].name)
    return _with_unit(header, column, candidates, words, place)


def _candidates(header: Header, place: str, named: str | None) -> tuple[tuple[Quantity, ...], str]:
    """The quantities, and the text column, that a header can stand for."""
    name = header.name if named is None else named
    candidates = (BY_NAME[name],) if name in BY_NAME else quantities_for(name)
    text = text_column_for(name)
    if named is not None and not candidates and not text:
        expected = quantity_names() + ", or none"
        raise BadInput(
            f"column {header.text!r} named by hand", place=place, found=repr(named), expected=expected
        )
    return candidates, text


def _stated_unit(header: Header, in_row: str, place: str) -> str:
    """The unit that header and unit row state."""
    if (
        header.unit
        and in_row
        and is_unit(header.unit)
        and is_unit(in_row)
        and unit(header.unit) != unit(in_row)
    ):
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found=f"{header.unit!r} in the header and {in_row!r} in the unit row",
            expected=f"the same, or --as 'unit:{header.text}=UNIT'",
        )
    return header.unit or in_row


def _with_unit(
    header: Header, column: Column, candidates: tuple[Quantity, ...], words: str, place: str
) -> Column:
    if not is_unit(words):
        raise UnknownUnit(
            f"unit of column {header.text!r}",
            place=place,
            found=repr(words),
            expected=f"{_examples(candidates)}, or --as 'unit:{header.text}=UNIT'",
        )
    known = unit(words)
    fitting = [each for each in candidates if each.dimension == known.dimension]
    if not fitting:
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found=f"{known.symbol}, a unit of {known.dimension}",
            expected=f"{candidates[0].label} in {_examples(candidates)}",
        )
    return replace(column, quantity=fitting[0].name, unit=known.symbol)


def _examples(candidates: tuple[Quantity, ...]) -> str:
    dimensions = {each.dimension for each in candidates}
    return "one of " + ", ".join(each.symbol for each in UNITS if each.dimension in dimensions)


def _settle_dp(headers: list[Header], columns: list[Column]) -> list[Column]:
    """Settle whether a bare "Δp" is a nozzle's or the drop of an obstacle.

    It is the drop where another column is the nozzle's for certain, or where the file has the flow but
    neither nozzles nor a fan's pressure.
    """
    drop = BY_NAME["resistance_pressure"]
    bare_dp = [
        column.quantity == "nozzle_pressure" and drop in quantities_for(header.name)
        for header, column in zip(headers, columns, strict=True)
    ]
    present = {each.quantity for each in columns}
    pairs = list(zip(columns, bare_dp, strict=True))
    nozzle_is_certain = any(each.quantity == "nozzle_pressure" and not open_ for each, open_ in pairs)
    if not nozzle_is_certain and (present & {"nozzles", "static_pressure"} or "flow" not in present):
        return columns
    return [replace(each, quantity=drop.name) if open_ else each for each, open_ in pairs]


def _missing(columns: Sequence[Column]) -> tuple[MissingUnit, ...]:
    missing = []
    for column in columns:
        if not column.quantity or column.unit or column.quantity in TEXT_COLUMNS:
            continue
        names = tuple(each.name for each in quantities_for(split_header(column.header).name))
        known = BY_NAME[column.quantity]
        option = f"unit:{column.header}={known.shown or known.unit}"
        missing.append(MissingUnit(column.header, names or (known.name,), option))
    return tuple(missing)


def _refuse_twice(grid: Grid, found: Located, columns: Sequence[Column]) -> None:
    seen: dict[str, int] = {}
    for number, column in enumerate(columns, 1):
        if not column.quantity:
            continue
        if column.quantity in seen:
            first = seen[column.quantity]
            raise Contradiction(
                f"columns {first} ({columns[first - 1].header!r}) and {number} ({column.header!r})",
                place=grid.place(found.header.line),
                found=f"both hold {column.quantity}",
                expected=f"one of them, or --as 'column:{column.header}=none'",
            )
        seen[column.quantity] = number


def _in_words(layout: Layout, kind: Kind, found: Located, notes: Mapping[str, str]) -> tuple[str, ...]:
    words = [f"{kind.value}"]
    if layout.sheet:
        words.append(f"sheet {layout.sheet!r}")
    else:
        mark = "comma" if layout.decimal == "," else "point"
        delimiter = DELIMITER_WORDS[layout.delimiter]
        words.append(f"text in {layout.encoding}, columns parted by {delimiter}, decimal {mark}")
    row = "row" if layout.sheet else "line"
    units = f", units on {row} {found.units.line}" if found.units else ""
    words.append(f"header on {row} {layout.header_line}{units}")
    words += [f"note: {key}: {value}" for key, value in notes.items()]
    for number, column in enumerate(layout.columns, 1):
        name = f"column {number} ({column.header!r})"
        if column.unit:
            words.append(f"{name}: {BY_NAME[column.quantity].label} in {column.unit}")
        elif column.quantity:
            words.append(f"{name}: {column.quantity}, as text")
        else:
            words.append(f"{name}: left out, {_why_left_out(column)}")
    return tuple(words)


def _why_left_out(column: Column) -> str:
    if not column.header:
        return "has no header"
    name = split_header(column.header).name
    known = quantities_for(name) or text_column_for(name)
    return "said by hand" if known else "names no quantity that is read"
