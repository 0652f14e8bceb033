"""The tables of a text or sheet: where each begins, its header, its readings, and every other line with why.

A table begins at a header. Under a header that has stood before, or under none, a new table begins only at a
line that tells something new: a title ("[Sweep 60 %]", "Sweep 2"), a setting ("Duty: 60 %"), a note
("Sample: 2"). A header that is merely repeated, as at a new page, stays inside its table.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from stillroom.errors import BadInput
from stillroom.readers.grids import lines
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.locating import is_numberlike, is_unit_row
from stillroom.readers.grids.sniff import cells_of
from stillroom.readers.grids.splitting import BLANKS
from stillroom.readers.grids.starts import BLANK, FOOTER, LeftOut, Start, names_of
from stillroom.readers.words.absent import absence, log_absence
from stillroom.readers.words.control import is_open
from stillroom.readers.words.dates import is_clock, is_date
from stillroom.readers.words.headers import SWEEP, quantities_for, split_header, squeeze, text_column_for


class Walk:
    """Goes through the rows of a text or sheet and tells what each is.

    Parameters
    ----------
    grid : the text or sheet.
    header : the cells of a header that is known, where its words alone wouldn't show it.
    extra : words (squeezed) that name a column although the vocabulary hasn't them.
    rows : the rows, where they aren't the grid's own: a row may stand for a run of plain readings.
    """

    def __init__(
        self,
        grid: Grid,
        header: Sequence[str] = (),
        extra: frozenset[str] = frozenset(),
        rows: Iterable[Row] | None = None,
    ) -> None:
        self._grid = grid
        self._rows = rows
        self._known = names_of(header)
        self._extra = extra
        self._number = 0
        self._header: Row | None = None
        self._units: Row | None = None
        self._names: list[str] = []
        self._numbers_first = False
        self._label_column = -1
        self._pending: list[Row] = []
        self._seen: set[str] = set()
        self._first: tuple[Row, ...] = ()
        self._waiting: Start | None = None
        self._closed = 0
        self._early: list[LeftOut] = []

    def __iter__(self) -> Iterator[Start | Row | LeftOut]:
        rows = iter(self._grid.rows() if self._rows is None else self._rows)
        held: list[Row] = []
        while row := _onward(rows, held):
            if self._header is not None and self._plain(row):
                if self._pending or self._waiting or self._closed:
                    yield from self._reading_after_words()
                yield row
            elif self._header is None and row.comment and (named := self._in_comment(row)):
                yield from self._at_header(named, rows, held)
            elif self._is_header(row):
                yield from self._held_back(self._at_header(row, rows, held))
            elif self._header is None:
                if not row.blank:
                    self._pending.append(self._as_words(row))
            else:
                yield from self._held_back(self._inside(row))
        yield from self._at_end()

    def _held_back(self, found: Iterator[Start | Row | LeftOut]) -> Iterator[Start | Row | LeftOut]:
        """Lines that are left out before a table's first reading come after its start."""
        for each in found:
            if isinstance(each, LeftOut) and self._waiting is not None:
                self._early.append(each)
            else:
                yield each

    def _plain(self, row: Row) -> bool:
        """Whether a row is a reading at first sight: as wide as the header, beginning with a number."""
        cells = row.cells
        return (
            len(cells) == len(self._names)
            and cells[0][:1] in "0123456789+-−."
            and cells[0][:1] != ""
            and (len(cells) == 1 or cells[1] != "")
            and (cells[0][:1] not in "-+−." or is_numberlike(cells[0].strip()))
        )

    def _is_header(self, row: Row) -> bool:
        if self._known and names_of(row.cells) == self._known:
            return True
        some = lines.filled(row.cells)
        if len(some) < 2 or any(is_numberlike(cell) for cell in some):
            return False
        known = [cell for cell in some if self._names_column(cell)]
        return len(known) >= 2 and 2 * len(known) >= len(some) and any(_is_measured(cell) for cell in known)

    def _in_comment(self, row: Row) -> Row | None:
        """The header that a comment line holds ("# flow [m³/h]; p_s [Pa]"), if it does."""
        if self._grid.sheet:
            return None
        text = ",".join(row.cells) if len(row.cells) > 1 else row.cells[0]
        cells = cells_of([text.lstrip("# \t")], self._grid.delimiter)
        named = Row(row.line, cells[0]) if cells else row
        return named if self._is_header(named) else None

    def _names_column(self, cell: str) -> bool:
        if not cell[:1].isalpha() and cell[:1] not in "Δ∆#ηρ%Ø":
            return False
        name = split_header(cell).name
        return bool(
            quantities_for(name)
            or text_column_for(name)
            or squeeze(name) in self._extra
            or squeeze(cell) in self._extra
        )

    def _at_header(self, row: Row, rows: Iterator[Row], held: list[Row]) -> Iterator[Start | LeftOut]:
        """A header: the last one before readings counts; the row after it may state units."""
        between: list[Row] = []
        after = _onward(rows, held)
        while after is not None and (after.blank or after.comment or lines.is_rule(after.cells)):
            between.append(after)
            after = _onward(rows, held)
        units = after if after is not None and is_unit_row(row, after) else None
        if units is None and after is not None:
            between.append(after)
        elif units is not None and self._grid.delimiter == BLANKS:
            units = self._spread(row, units)
        held[:0] = between
        names = names_of(row.cells)
        repeated = self._header is not None and names == self._names and _same(units, self._units)
        if repeated and not any(self._tells_new(each) for each in self._pending):
            yield from self._drop_pending("line repeated above a header")
            yield LeftOut(row.line, "header repeated")
            if units is not None:
                yield LeftOut(units.line, "units repeated")
            return
        if after is not None and units is None and self._is_header(after) and names_of(after.cells) != names:
            self._pending.append(row)  # the names of a preamble; the table's header follows
            return
        yield from self._begun()
        self._start(row, units)

    def _spread(self, header: Row, units: Row) -> Row:
        """A row of units parted by blanks, where columns of words have none: each unit under its column.

        Raises
        ------
        BadInput : it can't be told which column each unit belongs to.
        """
        if len(units.cells) == len(header.cells):
            return units
        measured = [not text_column_for(split_header(cell).name) for cell in header.cells]
        if sum(measured) != len(units.cells):
            raise BadInput(
                "row of units",
                place=self._grid.place(units.line),
                found=f"{len(units.cells)} units for {len(header.cells)} columns, parted by blanks",
                expected="one for each column that is measured, or '-'",
            )
        cells = iter(units.cells)
        return Row(units.line, [next(cells) if each else "" for each in measured])

    def _begun(self) -> Iterator[Start | LeftOut]:
        """The start that waits for its first reading, and the lines since."""
        if self._waiting is not None:
            waiting, early = self._waiting, self._early
            self._waiting, self._early = None, []
            yield waiting
            yield from early

    def _start(self, header: Row, units: Row | None) -> None:
        """Let a table begin; it waits for its first reading, since a title may stand under its header."""
        self._number += 1
        self._closed = 0
        above = tuple(self._pending)
        self._pending = []
        if self._number == 1:
            self._first = above
        self._header, self._units = header, units
        self._names = names_of(header.cells)
        self._seen |= {lines.words_of(each.cells) for each in above}
        first = split_header(header.cells[0]).name if header.cells else ""
        self._numbers_first = bool(quantities_for(first)) and not text_column_for(first)
        labels = [
            i for i, each in enumerate(self._names) if text_column_for(split_header(each).name) == SWEEP
        ]
        self._label_column = labels[0] if labels else -1
        self._waiting = Start(self._number, header, units, above, self._first)

    def _inside(self, row: Row) -> Iterator[Start | Row | LeftOut]:
        """A row inside a table that isn't a reading at first sight."""
        some = lines.filled(row.cells)
        if not some:
            yield LeftOut(row.line, BLANK)
            return
        text = lines.words_of(row.cells)
        if row.comment:
            if lines.setting_of_line(row.cells):
                self._pending.append(row)
            else:
                yield LeftOut(row.line, "comment")
        elif lines.is_rule(row.cells):
            yield LeftOut(row.line, "ruled line")
        elif self._is_footer(row, some):
            yield LeftOut(row.line, f"{FOOTER} {some[0]!r}")
        elif lines.is_page(text):
            yield LeftOut(row.line, "page mark")
        elif lines.is_end(text):
            self._closed = row.line
            yield LeftOut(row.line, "end of the file")
        elif self._is_words(row, some):
            self._pending.append(self._as_words(row))
        else:
            if self._pending or self._waiting or self._closed:
                yield from self._reading_after_words()
            yield row

    def _is_footer(self, row: Row, some: Sequence[str]) -> bool:
        """Whether a row sums up: it begins with such a word, and the rest are numbers or nothing."""
        place = next(i for i, cell in enumerate(row.cells) if cell.strip())
        return lines.is_footer(some[0]) and place != self._label_column

    def _is_words(self, row: Row, some: Sequence[str]) -> bool:
        """Whether a row is a title or a note, and no reading that is short or damaged."""
        if is_numberlike(some[0]) and not lines.setting_of_line(row.cells):
            return False
        if self._is_open_wire(row) or self._is_of_log(row):
            return False
        if lines.is_bracketed(row.cells):
            return True
        told = some[0].endswith((":", "=")) or lines.setting_of_line(row.cells)
        if self._grid.delimiter == BLANKS and told:
            return True  # as many words as columns make no reading of "Sweep: 40 %"
        if len(some) == 1:
            return len(self._names) > 1 and not self._is_short_reading(some[0])
        if len(some) > 3 or len(some) >= max(3, len(self._names)):
            return False
        return bool(
            lines.setting_of_line(row.cells)
            or some[0].endswith((":", "="))
            or ":" in some[0]
            or (self._numbers_first and lines.note_of(row.cells) and len(some) < len(self._names))
        )

    def _is_open_wire(self, row: Row) -> bool:
        """Whether a row is a reading with an open control wire: such a word where the duty stands, and a number."""
        cells = self._header.cells if self._header is not None else []
        return any(
            is_open(cell) and any(each.name == "duty" for each in quantities_for(split_header(head).name))
            for head, cell in zip(cells, row.cells, strict=False)
        ) and any(is_numberlike(cell.strip()) for cell in row.cells)

    def _is_of_log(self, row: Row) -> bool:
        """Whether a row is a log's, with cells that hold no number: a time of its own first, and nothing but numbers
        and words for none behind it.
        """
        first, *others = [cell.strip() for cell in row.cells]
        if len(row.cells) != len(self._names) or not (is_clock(first) or is_date(first)):
            return False
        values = [cell for cell in others if cell and not (is_clock(cell) or is_date(cell))]
        return all(is_numberlike(cell) or absence(cell) or log_absence(cell) for cell in values)

    def _as_words(self, row: Row) -> Row:
        """A line of words as one cell, where blanks alone parted its words, or brackets hold it together."""
        some = lines.filled(row.cells)
        parted = self._grid.delimiter == BLANKS and len(some) > 2
        between = f"{self._grid.delimiter.strip()} "
        return Row(row.line, [between.join(some)]) if parted or lines.is_bracketed(row.cells) else row

    def _is_short_reading(self, text: str) -> bool:
        """Whether a lone word may be all that is left of a reading whose first column holds words."""
        told = lines.is_title(text) or lines.note_of([text]) or lines.setting_of_line([text])
        return not told and " " not in text and len(text) < 20

    def _tells_new(self, row: Row) -> bool:
        """Whether a line says that another table begins under the same header."""
        text = lines.words_of(row.cells)
        if lines.setting_of_line(row.cells) or (lines.is_title(text) and not lines.is_page(text)):
            return True
        note = lines.note_of(row.cells)
        if note is not None:
            return squeeze(note[0]) not in lines.REMARKS and text not in self._seen
        return text not in self._seen

    def _reading_after_words(self) -> Iterator[Start | LeftOut]:
        """Words stood before this reading: a new table under the same header, or words that mean nothing."""
        assert self._header is not None
        if self._closed:
            raise BadInput(
                "reading",
                place=self._grid.place(self._closed + 1),
                found=f"readings after the end that line {self._closed} tells",
                expected="a header before further readings",
            )
        for each in self._pending:
            text = lines.words_of(each.cells)
            title = lines.setting_of_line(each.cells) or lines.is_title(text)
            alarm = lines.is_alarm(text) and not lines.setting_of_line(each.cells)
            if alarm or not (title or lines.note_of(each.cells)):
                raise BadInput(
                    "line between readings",
                    place=self._grid.place(each.line),
                    found=repr(text[:80]),
                    expected="a reading, a title such as '[Sweep 60 %]', 'key: value', or a comment '# …'",
                )
        told = any(self._tells_new(each) for each in self._pending)
        if told and self._waiting is not None:
            above = (*self._waiting.above, *self._pending)
            self._waiting = replace(self._waiting, above=above, first=self._first or above)
            self._seen |= {lines.words_of(each.cells) for each in self._pending}
            self._pending = []
        elif told:
            self._start(self._header, self._units)
        early = list(self._drop_pending("remark"))
        yield from self._begun()
        yield from early

    def _drop_pending(self, why: str) -> Iterator[LeftOut]:
        for each in self._pending:
            yield LeftOut(each.line, f"{why}: {lines.words_of(each.cells)[:60]!r}")
        self._pending = []

    def _at_end(self) -> Iterator[Start | LeftOut]:
        if self._header is None:
            return
        for each in self._pending:
            known = lines.note_of(each.cells) or lines.is_title(lines.words_of(each.cells))
            if not known and not self._grid.ended:
                raise BadInput(
                    "last line",
                    place=self._grid.place(each.line),
                    found=f"{lines.words_of(each.cells)[:80]!r} without a line end",
                    expected="a whole reading: the file seems to be cut",
                )
        yield from self._begun()
        yield from self._drop_pending("words after the readings")


def _is_measured(cell: str) -> bool:
    return bool(quantities_for(split_header(cell).name))


def _same(one: Row | None, other: Row | None) -> bool:
    if one is None or other is None:
        return one is other
    return names_of(one.cells) == names_of(other.cells)


def _onward(rows: Iterator[Row], held: list[Row]) -> Row | None:
    return held.pop(0) if held else next(rows, None)
