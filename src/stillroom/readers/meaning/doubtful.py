"""What a table's surroundings say against the way in which it is understood; where anything does, it is asked.

A line called "Max" that isn't the greatest of anything may be a reading at a throttle's end; a note may name
another unit than the header; a second table may stand beside the first.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from stillroom.errors import Contradiction
from stillroom.readers.grids.grid import Row
from stillroom.readers.grids.starts import FOOTER
from stillroom.readers.meaning.decided import BY_HAND, Decided
from stillroom.readers.meaning.found_tables import FoundTable
from stillroom.readers.words.headers import TEXT_COLUMNS, split_header, squeeze, text_column_for
from stillroom.readers.words.marks import Marks
from stillroom.readers.words.numbers import parse_number, part_unit
from stillroom.vocabulary import is_unit, unit

_GREATEST, _LEAST = frozenset({"max", "maximum"}), frozenset({"min", "minimum"})
_SLACK = 0.005
"""Share of their range by which readings may lie beyond what is called their greatest or least: both are rounded."""

_UNIT_WORDS = frozenset({"unit", "units", "einheit", "einheiten", "unité", "unités"})
_LETTERS = re.compile(r"[^\W\d_]+")
_PARTS = re.compile(r"\s*[;,|]\s*|\s+")


def check_footers(table: FoundTable, decided: Sequence[Decided], marks: Marks) -> None:
    """Refuse a line called "Max" or "Min" that isn't the greatest or least of the readings above it.

    Raises
    ------
    Contradiction : names the line.
    """
    ends = {each.line: _end(each.why) for each in table.left_out if each.why.startswith(FOOTER)}
    if not any(word in _GREATEST | _LEAST for word in ends.values()):
        return
    for row in table.grid.rows():
        word = ends.get(row.line, "")
        if word in _GREATEST | _LEAST and not _sums_up(table, decided, marks, row, sorted(ends)):
            which = "greatest" if word in _GREATEST else "least"
            raise Contradiction(
                "line under readings",
                place=table.grid.place(row.line),
                found=f"{word!r} with cells that aren't the {which} of the readings above",
                expected=f"their {which}, or another word where it is a reading",
            )


def _end(why: str) -> str:
    return squeeze(why.removeprefix(FOOTER).strip(" '\""))


def _sums_up(
    table: FoundTable, decided: Sequence[Decided], marks: Marks, row: Row, ends: Sequence[int]
) -> bool:
    """Whether every cell of a line is the greatest, or least, of the readings since the last such lines."""
    sign = 1.0 if _end(f"{FOOTER} {next(cell for cell in row.cells if cell.strip())}") in _GREATEST else -1.0
    last = max((each.line for each in table.rows if each.line < row.line), default=0)
    begin = max((line for line in ends if line < last), default=0)
    above = [each.cells for each in table.rows if begin < each.line < row.line]
    for index, each in enumerate(decided):
        if not each.column.unit or index >= len(row.cells):
            continue
        try:
            value = sign * _number(row.cells[index], marks)
            values = [sign * _number(cells[index], marks) for cells in above]
        except (ValueError, IndexError):
            continue
        if not values or max(values) > value + _SLACK * (max(values) - min(values)):
            return False
    return True


def _number(cell: str, marks: Marks) -> float:
    return parse_number(part_unit(cell)[0], marks.decimal, marks.thousands)


def check_unit_notes(table: FoundTable, decided: Sequence[Decided]) -> None:
    """Refuse a note such as "Units: CFM" where the columns of that kind state others; by hand comes first.

    Raises
    ------
    Contradiction : names the note.
    """
    if any(each.where == BY_HAND for each in decided):
        return
    stated = {unit(each.column.unit) for each in decided if each.column.unit}
    for key, text in table.start.notes.items():
        if not _UNIT_WORDS & {word.casefold() for word in _LETTERS.findall(key)}:
            continue
        for words in (text, *_PARTS.split(text)):
            if len(words) < 2 or not is_unit(words):
                continue
            known = unit(words)
            same = {each for each in stated if each.dimension == known.dimension}
            if same and known not in same:
                columns = " and ".join(sorted(each.symbol for each in same))
                raise Contradiction(
                    f"note {key!r}",
                    place=table.place,
                    found=f"{known.symbol}, where the columns are in {columns}",
                    expected="the same, or --as 'unit:HEADER=UNIT' for the column that is meant",
                )


def check_beside(table: FoundTable, decided: Sequence[Decided]) -> None:
    """Refuse a table beside the first: an empty column, then a column named as one before, then other readings.

    Raises
    ------
    Contradiction : names the columns.
    """
    headers = [cell.strip() for cell in table.start.header.cells]
    for gap, header in enumerate(headers):
        if header or any(row.cells[gap].strip() for row in table.rows if gap < len(row.cells)):
            continue
        before = {squeeze(each): each for each in headers[:gap] if _counts(each)}
        again = next((each for each in headers[gap + 1 :] if squeeze(each) in before), "")
        kept = [each.column for each in decided[gap + 1 :] if each.column.unit and each.column.quantity]
        if again and kept:
            raise Contradiction(
                "columns",
                place=table.place,
                found=f"{again!r} again behind an empty column, and {kept[0].header!r}, as if a second table "
                "stood beside the first",
                expected=f"one table, or --as 'column:{kept[0].header}=none'",
            )


def _counts(header: str) -> bool:
    """Whether a column says which reading a row is."""
    return text_column_for(split_header(header).name) in TEXT_COLUMNS
