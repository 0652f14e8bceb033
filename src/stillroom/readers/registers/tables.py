"""A lab's own tables (fans, samples, obstacles, runs, prices, …): cells with their unit and their place.

Which tables there are, and which columns each has, is said by the caller (`TableKind`); here the kind is
recognised by its headers, and a cell is turned into a number in SI, a date or a yes only when asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.grids.grid import Grid, Row, open_grid
from stillroom.readers.grids.locating import Located, bare, locate
from stillroom.readers.meaning.deciding import possible
from stillroom.readers.registers.cells import Cell
from stillroom.readers.source import Source
from stillroom.readers.words.bands import bands_in
from stillroom.readers.words.headers import split_header, squeeze
from stillroom.readers.words.kinds import REQUIRED


@dataclass(frozen=True)
class TableKind:
    """A kind of table, by its headers.

    Parameters
    ----------
    name : the kind's name.
    required, optional : the headers' words without units; compared without case, blanks and dashes.
    one_of : optional ones of which a table must have at least one.
    """

    name: str
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()

    def words(self) -> dict[str, str]:
        """{header for comparison: header} of all its columns."""
        return {squeeze(each): each for each in (*self.required, *self.optional)}


@dataclass(frozen=True)
class Table:
    """A table of the lab.

    Parameters
    ----------
    source : the file.
    kind : the kind that its headers fit.
    rows : {column's words as the kind has them: cell} of each row; a column that the file lacks is absent.
    lines : the line of each row.
    left_out : headers that the kind doesn't have.
    """

    source: Source
    kind: str
    rows: tuple[dict[str, Cell], ...]
    lines: tuple[int, ...]
    left_out: tuple[str, ...]


def read_table(
    source: Source, kinds: Sequence[TableKind], *, kind: str = "", decimal: str = "", encoding: str = ""
) -> Table:
    """Read a table whose kind is one of those given.

    Parameters
    ----------
    source : a text table or workbook.
    kinds : the kinds of table that there are.
    kind : the table's kind, where it was said by hand.
    decimal, encoding : how the text is written, where it was said by hand.

    Raises
    ------
    UnreadableFile : binary, damaged, empty.
    BadInput : no kind's columns are complete; a row is short or long; a required cell is empty.
    Contradiction : the headers fit two kinds, or one column stands there twice; or they are nearer to those of a
    kind that isn't complete.
    """
    grid = open_grid(source, decimal=decimal, encoding=encoding)
    found = locate(grid)
    headers = [split_header(cell) for cell in found.header.cells]
    # A column may be called "u(bore)" or "max. speed (rpm)": both readings of its header are tried.
    words = [(squeeze(each.text), squeeze(each.name)) for each in headers]
    chosen = _kind(source, grid, found, words, kinds, kind)
    _refuse_nearer(grid, found, words, kinds, chosen)
    names = _columns(grid, found, words, chosen)
    units = [_unit(found, index, each.unit) for index, each in enumerate(headers)]
    rows, lines = [], []
    for row in _rows(grid, found):
        cells = {
            name: Cell(
                text=row.cells[index].strip(),
                place=grid.place(row.line, index + 1),
                header=headers[index].text,
                unit=units[index],
                decimal=grid.decimal,
            )
            for index, name in names.items()
        }
        _check_required(chosen, cells)
        rows.append(cells)
        lines.append(row.line)
    left_out = tuple(each.text for index, each in enumerate(headers) if index not in names and each.text)
    return Table(source, chosen.name, tuple(rows), tuple(lines), left_out)


def table_kind(source: Source, kinds: Sequence[TableKind]) -> str:
    """The kind of table that a file's headers fit, or empty where they fit none.

    Nor does a table of measurements with a column for the fan: its flow and pressure are no columns of the kind.

    Raises
    ------
    UnreadableFile : binary, damaged, empty.
    Contradiction : the headers fit two kinds.
    """
    try:
        grid = open_grid(source, decimal=".")
    except Contradiction:
        return ""  # several sheets that hold something: a lab's table stands alone in its workbook
    try:
        found = locate(grid)
    except BadInput:
        return ""
    headers = [split_header(cell) for cell in found.header.cells]
    words = [(squeeze(each.text), squeeze(each.name)) for each in headers]
    complete = [each for each in kinds if _has_all(each, words)]
    if not complete:
        return ""
    kind = _kind(source, grid, found, words, complete, "")
    known = kind.words()
    others = [
        cell for cell, pair in zip(found.header.cells, words, strict=True) if not set(pair) & set(known)
    ]
    return "" if _can_be_measured(others) else kind.name


def _can_be_measured(headers: list[str]) -> bool:
    """Whether columns can be those of a measurement."""
    names = possible(Row(0, headers))
    return bool(bands_in(headers)) or any(all(each in names for each in required) for _, required in REQUIRED)


def _has_all(kind: TableKind, words: Sequence[tuple[str, str]]) -> bool:
    present = {word for pair in words for word in pair}
    has_one = not kind.one_of or any(squeeze(each) in present for each in kind.one_of)
    return has_one and all(squeeze(each) in present for each in kind.required)


def _kind(
    source: Source,
    grid: Grid,
    found: Located,
    words: Sequence[tuple[str, str]],
    kinds: Sequence[TableKind],
    said: str,
) -> TableKind:
    """The kind that is complete and knows the most of the headers."""
    candidates = [each for each in kinds if said in {"", each.name}]
    complete = [each for each in candidates if _has_all(each, words)]
    if not complete:
        raise BadInput(
            "columns of a table",
            place=grid.place(found.header.line),
            found=", ".join(cell.strip() for cell in found.header.cells if cell.strip())[:300],
            expected="; or ".join(f"{each.name}: " + _needed(each) for each in candidates),
        )
    known = {each.name: _known(each, words) for each in complete}
    best = [each for each in complete if known[each.name] == max(known.values())]
    most = max(len(each.required) for each in best)
    best = [each for each in best if len(each.required) == most]
    if len(best) > 1:
        names = " and ".join(each.name for each in best)
        raise Contradiction(
            "table", place=source.name, found=f"headers of {names}", expected="one kind of table"
        )
    return best[0]


def _known(kind: TableKind, words: Sequence[tuple[str, str]]) -> int:
    """How many of the headers a kind knows."""
    columns = set(kind.words())
    return sum(1 for pair in words if columns & set(pair))


def _refuse_nearer(
    grid: Grid,
    found: Located,
    words: Sequence[tuple[str, str]],
    kinds: Sequence[TableKind],
    chosen: TableKind,
) -> None:
    """Refuse a table that is complete as one kind, but has more columns of another that lacks one.

    Raises
    ------
    Contradiction : names both kinds, and what the nearer one lacks.
    """
    nearer = max(kinds, key=lambda each: _known(each, words))
    if _known(nearer, words) <= _known(chosen, words):
        return
    present = {word for pair in words for word in pair}
    missing = [each for each in nearer.required if squeeze(each) not in present]
    if not any(squeeze(each) in present for each in nearer.one_of):
        missing += [" or ".join(nearer.one_of)] if nearer.one_of else []
    raise Contradiction(
        "columns of a table",
        place=grid.place(found.header.line),
        found=f"more of a table of kind {nearer.name} than of one of kind {chosen.name}",
        expected=f"for {nearer.name} also {' and '.join(missing)}, or for {chosen.name} only its own columns",
    )


def _needed(kind: TableKind) -> str:
    one = [" or ".join(kind.one_of)] if kind.one_of else []
    return ", ".join((*kind.required, *one))


def _columns(grid: Grid, found: Located, words: Sequence[tuple[str, str]], kind: TableKind) -> dict[int, str]:
    """{column index: the kind's words for it}."""
    known = kind.words()
    names: dict[int, str] = {}
    for index, pair in enumerate(words):
        name = next((known[word] for word in pair if word in known), "")
        if name and name in names.values():
            raise Contradiction(
                f"column {name!r}",
                place=grid.place(found.header.line, index + 1),
                found="twice",
                expected="once",
            )
        if name:
            names[index] = name
    return names


def _unit(found: Located, index: int, stated: str) -> str:
    in_row = bare(found.units.cells[index]) if found.units and index < len(found.units.cells) else ""
    return stated or in_row


def _rows(grid: Grid, found: Located) -> list[Row]:
    """The rows under the header, each with as many cells as the header has."""
    width = len(found.header.cells)
    first = found.units.line if found.units else found.header.line
    rows = []
    for row in grid.rows():
        if row.line <= first or row.blank or row.comment:
            continue
        if len(row.cells) < width or any(cell.strip() for cell in row.cells[width:]):
            raise BadInput(
                "cells of a row",
                place=grid.place(row.line),
                found=f"{len(row.cells)} of them",
                expected=f"{width}, as many as the header has",
            )
        rows.append(row)
    if not rows:
        raise UnreadableFile(
            "table", place=grid.source.name, found="no rows under the header", expected="at least one"
        )
    return rows


def _check_required(kind: TableKind, cells: dict[str, Cell]) -> None:
    for name in kind.required:
        if cells[name].empty:
            raise BadInput(
                f"column {cells[name].header!r}",
                place=cells[name].place,
                found="an empty cell",
                expected=f"a {name}, which a table of kind {kind.name} can't do without",
            )
