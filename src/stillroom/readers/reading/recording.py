"""Read a measurement file by its layout: a Recording in SI that keeps the place of every raw cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.grids.blocks import Walk
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.starts import LeftOut, Start, without_last_blanks
from stillroom.readers.heat.gathering import LogGathering
from stillroom.readers.heat.log import Log
from stillroom.readers.layout import Layout
from stillroom.readers.reading.bounds import (
    SHARES,
    expected_words,
    first_outside,
    looks_like_share,
    looks_swapped,
)
from stillroom.readers.reading.bulk import Run, bulk_rows, is_long, parts
from stillroom.readers.reading.control import is_asked, settled
from stillroom.readers.reading.gathering import Gathering
from stillroom.readers.reading.levels import Levels, completed
from stillroom.readers.reading.means import WHY as MEAN
from stillroom.readers.reading.means import mean_at
from stillroom.readers.reading.noted_air import noted_air
from stillroom.readers.reading.raw import RawCell, grid_of, raw_cell
from stillroom.readers.reading.strict import find, shape
from stillroom.readers.reading.taking import ABSENT, take, take_run
from stillroom.readers.reading.twins import last_digit
from stillroom.readers.reading.wide import has_header, read_wide
from stillroom.readers.source import Source
from stillroom.readers.words.kinds import Kind, kind_of
from stillroom.readers.words.numbers import Array, part_unit
from stillroom.vocabulary import unit

READER_VERSION = 3
"""Raised when the same file and layout would give other readings."""

ROWS_UNDERSTOOD = 50_000
"""Rows of a file that are looked at to understand it; a longer file may hold one table only."""

_CHUNK = 20_000


@dataclass(frozen=True)
class Recording:
    """The readings of one file.

    Parameters
    ----------
    source : the file.
    layout : how it was read.
    kind : what kind of measurement it is.
    columns : {quantity: values (readings,) [SI]}; air that only a note tells is the same at each.
    nozzles : the open nozzles of each reading; an empty tuple where the file has no such column.
    texts : {"point" or "time": raw text of each reading} where the file has these columns.
    lines : the line of each reading in the file (row in a sheet), from 1.
    left_out : the lines that are no readings: comments and blank lines among them.
    notes : the "key: value" lines above this table; titles under "title".
    setting : {"duty": 0.6}, {"voltage": 7.0} or {"speed": 25.0} [SI] where the lines above the table tell it.
    remarks : {line: words that stand beyond the columns of a reading}.
    log : of a heat log what its clock and its channels tell; None of any other.
    """

    source: Source
    layout: Layout
    kind: Kind
    columns: dict[str, Array]
    nozzles: Sequence[tuple[str, ...]]
    texts: Mapping[str, Sequence[str]]
    lines: Sequence[int]
    left_out: tuple[LeftOut, ...] = ()
    notes: dict[str, str] = field(default_factory=dict)
    setting: dict[str, float] = field(default_factory=dict)
    remarks: dict[int, str] = field(default_factory=dict)
    version: int = READER_VERSION
    log: Log | None = None

    def __len__(self) -> int:
        """The number of readings."""
        return len(self.lines)

    @property
    def units(self) -> dict[str, str]:
        """{quantity: the unit in the file}."""
        return self.layout.units

    @property
    def headers(self) -> dict[str, str]:
        """{quantity or text column: its header in the file}."""
        return self.layout.headers

    def raw(self, reading: int, quantity: str) -> RawCell:
        """The raw cell of a reading (from 0), read again from the file.

        Raises
        ------
        BadInput : there is no such reading or column.
        UnreadableFile : the file no longer has that line.
        """
        if quantity not in self.headers or not 0 <= reading < len(self):
            found = f"reading {reading} of {quantity!r}"
            raise BadInput("raw cell", place=self.source.name, found=found, expected="a reading of this file")
        band = float(self.columns["frequency"][reading]) if self.layout.is_wide else 0.0
        return raw_cell(self.source, self.layout, self.lines[reading], quantity, band)


def read(source: Source, layout: Layout) -> Recording:
    """Read one table of a measurement file strictly by a layout.

    Raises
    ------
    UnreadableFile : the file doesn't have the layout's shape, is cut, binary, or holds no readings.
    BadInput : a row is short or long; a cell is empty, no number, or physically impossible.
    Contradiction : two columns are swapped, or one nozzle is listed twice in a reading.
    """
    if layout.is_wide:
        return _read_wide(source, layout)
    if layout.is_log:
        return _with_kind_settled(_read_log(source, layout))
    gathered = Gathering()
    start = list(gather(source, layout, gathered))[-1]
    light = len(gathered.lines) > ROWS_UNDERSTOOD
    recording = assembled(source, layout, start, gathered, light=light)
    recording = recording if light else _without_mean(recording)
    check(recording)
    recording = _with_kind_settled(recording)
    if recording.kind.is_heat:
        return _read_log(source, layout)  # the drive of a heat run
    return _completed(recording) if recording.kind.is_sound else _with_noted_air(recording)


def kind_in_time(source: Source, layout: Layout) -> Kind:
    """The kind that the readings of a table of settings, or of a current, in time show; raises as `read`."""
    try:
        recording = _read_log(source, replace(layout, log=True))
    except BadInput:
        return read(source, layout).kind
    return settled(replace(_levels(recording), kind=kind_of(layout.headers, source.name)))[0]


def _read_wide(source: Source, layout: Layout) -> Recording:
    wide = read_wide(grid_of(source, layout), layout)
    recording = Recording(
        source, layout, Kind.BAND_LEVELS, wide.columns, (), wide.texts, wide.lines, wide.left_out, wide.notes
    )
    check(recording)
    return _completed(recording)


LONGEST_END = 20
"""After the readings of a log stand so many lines of words at most: more, and it goes on in another way."""


def _refuse_long_end(source: Source, after: Sequence[LeftOut]) -> None:
    """Refuse a log of which more than an end in words would be passed over."""
    if len(after) > LONGEST_END:
        raise BadInput(
            "lines after the readings",
            place=f"{source.name}, line {after[0].line}",
            found=f"{len(after):,} that are none, the first: {after[0].why}",
            expected=f"{LONGEST_END} at most, or readings as in the lines above",
        )


def _read_log(source: Source, layout: Layout) -> Recording:
    """A log, part by part: its times since the first row, what is no value in its channels as NaN."""
    gathered, held = Gathering(), LogGathering(source.name, layout)
    left_out: list[LeftOut] = []
    starts: list[Start] = []
    for start in gather(source, layout, gathered):
        starts = [start]
        if gathered.lines:
            numbers = {name: np.concatenate(parts) for name, parts in gathered.numbers.items()}
            held.add(numbers, gathered.texts, np.array(gathered.lines, dtype=np.int64))
            left_out += [each for each in gathered.left_out if each.line <= gathered.lines[-1]]
            gathered.empty()
    columns, lines, log = held.finished()
    left_out += without_last_blanks(gathered.left_out, lines[-1])
    _refuse_long_end(source, [each for each in left_out if each.line > lines[-1]])
    recording = Recording(
        source=source,
        layout=layout,
        kind=Kind.HEAT_LOG,
        columns=columns,
        nozzles=(),
        texts={},
        lines=lines,
        left_out=tuple(left_out),
        notes=starts[0].notes,
        setting=starts[0].setting,
        log=log,
    )
    _check_shares(recording)
    return recording


def _completed(recording: Recording) -> Recording:
    """A table of levels with what its readings tell of its kind and times."""
    kind, columns = completed(_levels(recording))
    return replace(recording, kind=kind, columns=columns)


def _with_kind_settled(recording: Recording) -> Recording:
    """A table of settings, or of a current, in time with what its readings tell of its kind and times."""
    table = _levels(recording)
    if not is_asked(table):
        return recording
    kind, columns = settled(table)
    return replace(recording, kind=kind, columns=columns)


def _levels(recording: Recording) -> Levels:
    return Levels(
        recording.source.name,
        recording.kind,
        recording.columns,
        recording.texts,
        recording.headers,
        recording.lines,
    )


def _with_noted_air(recording: Recording) -> Recording:
    """The readings with the air that notes tell, the same at each, where no column tells it."""
    noted = {
        each.quantity: each.value
        for each in noted_air(recording.notes, recording.columns)
        if each.value is not None
    }
    constant = {name: np.full(len(recording), value) for name, value in noted.items()}
    return replace(recording, columns=recording.columns | constant) if noted else recording


def _without_mean(recording: Recording) -> Recording:
    """The readings without a last line that holds their mean, and without the statistics under it."""

    def step(quantity: str, index: int) -> float:
        text = part_unit(recording.raw(index, quantity).text)[0]
        return last_digit(text, recording.layout.decimal) * unit(recording.units[quantity]).factor

    end = mean_at(recording.columns, step)
    if end < 0:
        return recording
    left_out = [LeftOut(line, MEAN) for line in recording.lines[end:]]
    return replace(
        recording,
        columns={name: values[:end] for name, values in recording.columns.items()},
        nozzles=recording.nozzles[:end],
        texts={name: cells[:end] for name, cells in recording.texts.items()},
        lines=recording.lines[:end],
        left_out=tuple(sorted((*recording.left_out, *left_out), key=lambda each: each.line)),
    )


def gather(source: Source, layout: Layout, gathered: Gathering) -> Iterator[Start]:
    """Stream a table's readings into `gathered`; the table's start after each part, so that it can be emptied.

    Raises
    ------
    StillroomError : as `read`, but for what is impossible in a whole column (`check`).
    """
    grid = grid_of(source, layout)
    rows = bulk_rows(grid, layout) if is_long(grid, layout) else None
    walk = iter(Walk(grid, header=[column.header for column in layout.columns], rows=rows))
    start = find(grid, layout, walk)
    readings = shape(grid, layout, _rows(grid, walk, gathered), gathered.remarks)
    for part in parts(readings, _CHUNK):
        if isinstance(part, Run):
            take_run(grid, layout, part, gathered)
        else:
            take(grid, layout, part, gathered)
        yield start
    _check_gathered(source, gathered)
    yield start


def assembled(source: Source, layout: Layout, start: Start, gathered: Gathering, *, light: bool) -> Recording:
    """What has been gathered, as a recording; a light one holds lines, nozzles and texts in little room."""
    lines = gathered.lines
    return Recording(
        source=source,
        layout=layout,
        kind=kind_of(layout.headers, source.name),
        columns={name: np.concatenate(parts) for name, parts in gathered.numbers.items()},
        nozzles=gathered.nozzles if light else tuple(gathered.nozzles),
        texts={name: cells if light else tuple(cells) for name, cells in gathered.texts.items()},
        lines=lines if light else tuple(lines),
        left_out=tuple(sorted(without_last_blanks(gathered.left_out, lines[-1]), key=lambda each: each.line)),
        notes=start.notes,
        setting=start.setting,
        remarks=dict(gathered.remarks),
    )


def _check_gathered(source: Source, gathered: Gathering) -> None:
    """Refuse a table without readings, or one of which most can't be read."""
    if not gathered.read:
        found = "no readings under the header"
        if gathered.absent:
            found = f"no whole reading: {gathered.absent} rows with a cell that holds no number"
        raise UnreadableFile("table", place=source.name, found=found, expected="at least one")
    if gathered.absent > gathered.read:
        why = next(each.why for each in gathered.left_out if each.why.startswith(ABSENT))
        raise BadInput(
            "readings",
            place=source.name,
            found=f"{gathered.absent} of {gathered.absent + gathered.read} with a cell that holds no "
            f"number ({why})",
            expected="fewer than half, or --as 'column:HEADER=none' to leave that column out",
        )


def fits(source: Source, layout: Layout) -> bool:
    """Whether a file has the shape of a layout, so that it can be proposed for it."""
    try:
        grid = grid_of(source, layout)
        if layout.is_wide:
            return has_header(grid, layout)
        find(grid, layout, iter(Walk(grid, header=[column.header for column in layout.columns])))
    except BadInput:
        return False
    return True


def _rows(grid: Grid, walk: Iterator[Start | Row | LeftOut], gathered: Gathering) -> Iterator[Row]:
    """The readings of the table that the walk has come to; lines left out are noted.

    Raises
    ------
    BadInput : another table begins in a file so long that only its first rows were understood.
    """
    for each in walk:
        if isinstance(each, Row):
            yield each
        elif isinstance(each, LeftOut):
            gathered.left_out.append(each)
        elif each.header.line > ROWS_UNDERSTOOD:
            raise BadInput(
                "table",
                place=grid.place(each.header.line),
                found=f"another table after {each.header.line - 1:,} rows",
                expected=f"one table in a file of more than {ROWS_UNDERSTOOD:,} rows",
            )
        else:
            return


def check(recording: Recording) -> None:
    """Refuse what can't be: swapped columns first, since they name the cause; then single cells.

    Raises
    ------
    Contradiction : two columns are swapped, or shares are given as per cent.
    BadInput : a cell is physically impossible.
    """
    if recording.kind.is_heat:
        return  # a log's own reading cleans each channel
    if looks_swapped(recording.columns, recording.units):
        pressure, temperature = (recording.raw(0, name) for name in ("barometric_pressure", "temperature"))
        raise Contradiction(
            f"columns {pressure.header!r} and {temperature.header!r}",
            place=pressure.place,
            found=f"{pressure.text} {pressure.unit} and {temperature.text} {temperature.unit}, as if swapped",
            expected="an air pressure in the first and a temperature in the second",
        )
    for quantity, values in recording.columns.items():
        bad = first_outside(quantity, values)
        if bad >= 0:
            cell = recording.raw(bad, quantity)
            raise BadInput(
                f"column {cell.header!r}",
                place=cell.place,
                found=f"{cell.text} {cell.unit}",
                expected=expected_words(quantity, cell.unit),
            )
    _check_shares(recording)


def _check_shares(recording: Recording) -> None:
    """Refuse per cent that are shares of one."""
    for quantity in (each for each in SHARES if each in recording.columns):
        values = recording.columns[quantity]
        if looks_like_share(quantity, values[np.isfinite(values)], recording.units[quantity]):
            cell = recording.raw(int(np.where(values > 0, values, 2.0).argmin()), quantity)
            raise Contradiction(
                f"unit of column {cell.header!r}",
                place=cell.place,
                found=f"{cell.text} {cell.unit}, as if it were a share of one",
                expected=f"per cent, or --as 'unit:{cell.header}=1'",
            )
