"""Tables of levels with a column for each band: headers such as "25 Hz", "31.5", "1k", "LZeq 1.25 kHz"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.errors import Contradiction, StillroomError, UnknownUnit, UnreadableFile
from stillroom.readers.grids import lines as words
from stillroom.readers.grids.grid import DELIMITER_WORDS, Grid, Row
from stillroom.readers.grids.locating import bare
from stillroom.readers.layout import Column, Layout
from stillroom.readers.meaning.decided import Decided
from stillroom.readers.meaning.deciding import decide
from stillroom.readers.meaning.overrides import grids, said_of
from stillroom.readers.source import Source
from stillroom.readers.words.bands import BandHeader, bands_in
from stillroom.readers.words.headers import TEXT_COLUMNS, quantities_for, split_header, squeeze
from stillroom.readers.words.marks import marks_of
from stillroom.vocabulary import BY_NAME, is_unit, plain, unit

BANDS = "bands"
"""How `--as unit:bands=dB` names the columns of all bands together."""

_LOOKED_AT = 64 * 1024
_PERHAPS = (re.compile(rb"\b500\b"), re.compile(rb"\b(?:1000|1[ ]?k)", re.IGNORECASE))
"""What a row of bands holds wherever it begins and ends; most files are seen at once to have none."""

_WEIGHTING = frozenset(
    {"weighting", "frequency weighting", "bewertung", "frequenzbewertung", "pondération", "filter"}
)
_WORDS = {
    "a": "dBA",
    "c": "dBC",
    "z": "dB",
    "lin": "dB",
    "linear": "dB",
    "none": "dB",
    "f": "dB",
    "flat": "dB",
}


@dataclass(frozen=True)
class WideTable:
    """A table with a column for each band.

    Parameters
    ----------
    grid : where it stands. header : its row of names. units : its row of units, or None.
    bands : {column index: band}. rows : those under it. notes : lines above it.
    """

    grid: Grid
    header: Row
    units: Row | None
    bands: Mapping[int, BandHeader]
    rows: tuple[Row, ...]
    notes: dict[str, str]


def wide_tables(source: Source, said: Mapping[str, str]) -> list[WideTable]:
    """The tables of a file that have a column for each band; none in most files, which is seen at once.

    Raises
    ------
    StillroomError : a workbook or text that can't be read at all.
    """
    if not source.is_workbook and not _perhaps(source):
        return []
    try:
        several = grids(source, _of_grid(said))
    except StillroomError:
        return []  # what is wrong with it is said where it is understood as any table
    return [found for grid in several if (found := _wide(grid)) is not None]


def _perhaps(source: Source) -> bool:
    head = source.head(_LOOKED_AT).replace(b"\0", b"")
    return all(each.search(head) for each in _PERHAPS)


def _of_grid(said: Mapping[str, str]) -> dict[str, str]:
    return {key: value for key, value in said.items() if not key.startswith(("unit:", "column:"))}


def _wide(grid: Grid) -> WideTable | None:
    for at, row in enumerate(grid.head):
        bands = bands_in(row.cells)
        if not bands:
            continue
        after = [each for each in grid.head[at + 1 :] if not each.comment]
        units = after[0] if after and _states_units(after[0], bands) else None
        first = units.line if units else row.line
        rows = tuple(
            each for each in grid.rows() if each.line > first and not each.blank and not each.comment
        )
        above = [each.cells for each in grid.head[:at]]
        return WideTable(grid, row, units, bands, rows, words.notes_of(above))
    return None


def _states_units(row: Row, bands: Mapping[int, BandHeader]) -> bool:
    cells = [bare(row.cells[i]) for i in bands if i < len(row.cells)]
    return bool(cells) and all(is_unit(cell) and unit(cell).dimension == "level" for cell in cells)


def decide_wide(table: WideTable, said: Mapping[str, str]) -> list[Decided]:
    """Each column of a wide table; a unit that isn't told is left empty.

    Raises
    ------
    Contradiction : the bands are told in two units. StillroomError : as `decide`.
    """
    headers = [cell.strip() for cell in table.header.cells]
    own = {squeeze(headers[i]) for i in table.bands} | {squeeze(BANDS)}
    others = {
        key: value
        for key, value in said.items()
        if not (key.startswith(("unit:", "column:")) and squeeze(key.partition(":")[2]) in own)
    }
    bare_row = Row(table.header.line, ["" if i in table.bands else cell for i, cell in enumerate(headers)])
    bare_units = None
    if table.units is not None:
        bare_units = Row(
            table.units.line, ["" if i in table.bands else c for i, c in enumerate(table.units.cells)]
        )
    decided = decide(table.grid, bare_row, bare_units, table.rows, others)
    told = _unit(table, said, own)
    stated = table.units.cells if table.units is not None else []
    for i, band in table.bands.items():
        cell = stated[i].strip() if i < len(stated) else ""
        decided[i] = Decided(
            Column(headers[i], "band_level", told, cell, band=band.frequency), "of all bands" if told else ""
        )
    return _without_twin_levels(decided)


def _without_twin_levels(decided: list[Decided]) -> list[Decided]:
    """Beside bands in columns no other column is a band's."""
    return [
        Decided(replace(each.column, quantity="", unit="", in_cells=False), "beside bands in columns")
        if each.column.quantity in {"band_level", "frequency"} and not each.column.band
        else each
        for each in decided
    ]


def _unit(table: WideTable, said: Mapping[str, str], own: set[str]) -> str:
    """The unit of all bands' levels: by hand, else as headers, the row of units or a note say; "" where none does."""
    by_hand = {
        unit(value).symbol for key, value in said.items()
        if key.startswith("unit:") and squeeze(key.partition(":")[2]) in own
    }  # fmt: skip
    stated = {unit(each.unit).symbol for each in table.bands.values() if each.unit}
    if table.units is not None:
        stated |= {unit(bare(table.units.cells[i])).symbol for i in table.bands}
    noted = {
        _WORDS[word] for key, text in table.notes.items()
        if plain(key) in _WEIGHTING and (word := plain(text).removeprefix("db").strip(" ()")) in _WORDS
    }  # fmt: skip
    stated = {"dB" if each == "dBZ" else each for each in stated}
    if stated == {"dB"} and noted:
        stated = noted
    found = by_hand or stated or noted
    if len(found) > 1:
        raise Contradiction(
            "unit of the bands",
            place=table.grid.place(table.header.line),
            found=" and ".join(sorted(found)),
            expected="one, or --as 'unit:bands=dB'",
        )
    symbol = next(iter(found), "")
    if symbol and unit(symbol).dimension != "level":
        raise Contradiction(
            "unit of the bands",
            place=table.grid.source.name,
            found=symbol,
            expected="dB, or dBA where weighted",
        )
    return "dB" if symbol == "dBZ" else symbol


def layout_of(table: WideTable, decided: Sequence[Decided], said: Mapping[str, str]) -> Layout:
    """The layout of a wide table whose units are all told.

    Raises
    ------
    UnreadableFile : no rows under the header. BadInput : numbers that can be read in two ways.
    """
    grid = table.grid
    if not table.rows:
        raise UnreadableFile(
            "table", place=grid.place(table.header.line), found="no rows", expected="one or more"
        )
    written = said_of(grid.source, said)
    cells = [
        [row.cells[i] for row in table.rows if i < len(row.cells)]
        for i, each in enumerate(decided)
        if each.column.unit
    ]
    marks = marks_of(
        cells,
        grid.source.name,
        decimal=written.decimal,
        thousands=written.thousands,
        points=bool(grid.sheet) or grid.delimiter == ",",
    )
    return Layout(
        columns=tuple(each.column for each in decided),
        delimiter=grid.delimiter,
        decimal=marks.decimal,
        encoding=grid.encoding,
        sheet=grid.sheet,
        header_line=table.header.line,
        unit_row=table.units is not None,
        thousands=marks.thousands,
    )


def wide_words(table: WideTable, layout: Layout) -> tuple[str, ...]:
    """What was understood of a wide table, one sentence each, for a preview."""
    bands = [each for each in layout.columns if each.band]
    how = f"sheet {layout.sheet!r}" if layout.sheet else (
        f"text in {layout.encoding}, columns parted by {DELIMITER_WORDS[layout.delimiter]}"
    )  # fmt: skip
    weighting = {"dBA": "A-weighted", "dBC": "C-weighted"}.get(bands[0].unit, "without weighting")
    others = [
        f"column {i} ({each.header!r}): " + (f"{BY_NAME[each.quantity].label} in {each.unit}" if each.unit else
        f"{each.quantity}, as text" if each.quantity else "left out, names no quantity that is read")
        for i, each in enumerate(layout.columns, 1) if not each.band
    ]  # fmt: skip
    return (
        "one-third-octave levels, a column for each band",
        how,
        f"header on line {layout.header_line}, {len(table.rows)} rows under it",
        f"{len(bands)} bands from {bands[0].band:g} to {bands[-1].band:g} Hz, {weighting}",
        *(f"note: {key}: {value}" for key, value in table.notes.items()),
        *others,
    )


def missing_in(decided: Sequence[Decided]) -> list[tuple[str, tuple[str, ...], str]]:
    """(header, quantities, option to pass) of each column of a wide table whose unit isn't told; the bands once."""
    missing: list[tuple[str, tuple[str, ...], str]] = []
    if any(each.column.band and not each.column.unit for each in decided):
        missing.append((BANDS, ("band_level",), f"unit:{BANDS}=dB"))
    for column in (each.column for each in decided):
        if column.quantity and not column.unit and not column.band and column.quantity not in TEXT_COLUMNS:
            known = BY_NAME[column.quantity]
            names = tuple(each.name for each in quantities_for(split_header(column.header).name))
            shown = known.shown or known.unit
            missing.append((column.header, names or (known.name,), f"unit:{column.header}={shown}"))
    return missing


def ask_units(table: WideTable, decided: Sequence[Decided]) -> None:
    """Refuse a wide table of which a unit isn't told.

    Raises
    ------
    UnknownUnit : says what to pass.
    """
    missing = missing_in(decided)
    if missing:
        found = "none for " + ", ".join(repr(each[0]) for each in missing)
        if missing[0][0] == BANDS:
            found += " (dB for levels without weighting, dBA for weighted ones)"
        raise UnknownUnit(
            "unit",
            place=table.grid.place(table.header.line),
            found=found,
            expected=" ".join(f"--as {each[2]!r}" for each in missing),
        )
