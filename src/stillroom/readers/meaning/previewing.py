"""What was understood of a table, in sentences for a preview."""

from __future__ import annotations

from collections.abc import Sequence, Set

from stillroom.readers.grids.grid import DELIMITER_WORDS
from stillroom.readers.grids.starts import LeftOut, Start
from stillroom.readers.layout import EMPTY, Column, Layout
from stillroom.readers.meaning.decided import Decided
from stillroom.readers.reading.noted_air import noted_air
from stillroom.readers.words.headers import quantities_for, split_header, text_column_for
from stillroom.readers.words.kinds import Kind
from stillroom.vocabulary import BY_NAME, from_si

_THOUSANDS = {",": "a comma", ".": "a point", "'": "an apostrophe", " ": "a blank"}
_ORDERS = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day"}
_SAMPLED = 5
_WANTED = (
    ("speed", "the speed"),
    ("temperature", "the air's temperature"),
    ("barometric_pressure", "the air pressure"),
    ("relative_humidity", "the humidity"),
)
"""What a file may tell and results are surer with."""


def in_words(
    layout: Layout,
    kind: Kind,
    start: Start,
    decided: Sequence[Decided],
    lines: Sequence[int],
    left_out: Sequence[LeftOut],
    count: int,
) -> tuple[str, ...]:
    """What was understood of a table, one sentence each.

    Parameters
    ----------
    start : where the table begins. decided : its columns. lines : the lines of its readings.
    left_out : its lines that are no readings. count : how many tables of its text or sheet are read.
    """
    row = "row" if layout.sheet else "line"
    air = noted_air(start.notes, layout.headers)
    return (
        kind.value,
        *_written(layout),
        *_place(layout, start, lines, count, row),
        *(f"note: {key}: {value}" for key, value in start.notes.items()),
        *_setting(start, layout, kind),
        *(_column(number, each) for number, each in enumerate(decided, 1)),
        *_left_out(left_out, row),
        *(each.words for each in air),
        *(
            []
            if not kind.is_airflow
            else _untold(layout, {each.quantity for each in air if each.value is not None})
        ),
    )


def _written(layout: Layout) -> list[str]:
    words = []
    mark = "comma" if layout.decimal == "," else "point"
    if layout.sheet:
        words.append(f"sheet {layout.sheet!r}")
    else:
        delimiter = DELIMITER_WORDS[layout.delimiter]
        words.append(f"text in {layout.encoding}, columns parted by {delimiter}, decimal {mark}")
    if layout.thousands:
        words.append(f"thousands parted by {_THOUSANDS[layout.thousands]}")
    if layout.date_order:
        words.append(f"dates as {_ORDERS[layout.date_order]}")
    return words


def _place(layout: Layout, start: Start, lines: Sequence[int], count: int, row: str) -> list[str]:
    units = f", units on {row} {start.units.line}" if start.units else ""
    words = [f"header on {row} {layout.header_line}{units}"]
    readings = f"{len(lines)} readings on {row}s {lines[0]} to {lines[-1]}" if lines else "no readings"
    if count > 1:
        words.append(f"table {layout.block} of the {'sheet' if layout.sheet else 'text'}")
    return [*words, readings]


def _setting(start: Start, layout: Layout, kind: Kind) -> list[str]:
    for name, value in start.setting.items():
        known = BY_NAME[name]
        shown = known.shown or known.unit
        return [f"setting: {known.label} {from_si(value, shown):g} {shown}, as the lines above the table say"]
    told = [each for each in ("duty", "voltage", "set_speed", "sweep") if each in layout.headers]
    if kind.is_heat:
        return [f"settings in time by the column {layout.headers[told[0]]!r}"] if told else []
    return (
        [f"may tell the setting: column {layout.headers[told[0]]!r}, where a run's line shows none other"]
        if told
        else []
    )


def _column(number: int, decided: Decided) -> str:
    column = decided.column
    name = f"column {number} ({column.header!r})"
    if column.quantity and column.unit:
        where = f", stated {decided.where}" if decided.where else ""
        return f"{name}: {BY_NAME[column.quantity].label} in {column.unit}{where}"
    if column.quantity:
        return f"{name}: {column.quantity}, as text"
    return f"{name}: left out, {_why_left_out(column, decided.where)}"


def _why_left_out(column: Column, where: str) -> str:
    if column.left == EMPTY:
        return "empty in every row"
    if column.left:
        return f"the {column.left}"
    if not column.header:
        return "has no header"
    name = split_header(column.header).name
    known = quantities_for(name) or text_column_for(name)
    return (where or "said by hand") if known else "names no quantity that is read"


def _left_out(left_out: Sequence[LeftOut], row: str) -> list[str]:
    """The lines that are no readings: each reason once, with how many and the first of them."""
    by_reason: dict[str, list[int]] = {}
    for each in left_out:
        by_reason.setdefault(each.why, []).append(each.line)
    words = []
    for why, lines in by_reason.items():
        some = ", ".join(map(str, lines[:_SAMPLED])) + (", …" if len(lines) > _SAMPLED else "")
        many = f"{len(lines)} {row}s" if len(lines) > 1 else f"1 {row}"
        words.append(f"left out {many} ({some}): {why}")
    return words


def _untold(layout: Layout, noted: Set[str]) -> list[str]:
    present = noted | set(layout.headers)
    missing = [words for name, words in _WANTED if name not in present]
    return [f"not told by the columns: {', '.join(missing)}"] if missing else []
