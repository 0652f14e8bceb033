"""A raw cell of a measurement file, read again from its bytes, and the grid by which a layout reads them."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.errors import UnreadableFile
from stillroom.readers.grids.grid import Grid, open_grid
from stillroom.readers.layout import Layout
from stillroom.readers.source import Source


@dataclass(frozen=True)
class RawCell:
    """A cell as it stands in the file, with its place."""

    text: str
    place: str
    line: int
    column: int
    header: str
    unit: str


def grid_of(source: Source, layout: Layout) -> Grid:
    """The raw cells of a file, as a layout parts them.

    Raises
    ------
    UnreadableFile : a text for a workbook's layout, or the other way round.
    """
    if source.is_workbook != (layout.delimiter == ""):
        kind = {True: "a workbook", False: "a text table"}
        raise UnreadableFile(
            "file",
            place=source.name,
            found=kind[source.is_workbook],
            expected=f"{kind[not source.is_workbook]} (layout)",
        )
    return open_grid(
        source,
        encoding=layout.encoding,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        sheet=layout.sheet,
    )


def raw_cell(source: Source, layout: Layout, line: int, quantity: str, band: float = 0.0) -> RawCell:
    """The raw cell of a quantity in a line; in a table with a column for each band, of that of this band [Hz].

    Raises
    ------
    UnreadableFile : the file no longer has that line.
    """
    grid = grid_of(source, layout)
    of_band = band and quantity in {"band_level", "frequency"}
    index = next(
        i
        for i, column in enumerate(layout.columns)
        if (column.band == band if of_band else column.quantity == quantity)
    )
    row = next((row for row in grid.rows() if row.line == line), None)
    if row is None or len(row.cells) <= index:
        raise UnreadableFile(
            "line", place=grid.place(line), found="nothing", expected="the reading that was here"
        )
    column = layout.columns[index]
    place = grid.place(line, index + 1)
    return RawCell(row.cells[index], place, line, index + 1, column.header, column.unit)
