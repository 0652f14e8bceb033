"""What a table of rounds or of disputes tells, checked: a measure that there is, a margin that it can have."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.field import Asked
from stillroom.lab.margin_words import margin_in
from stillroom.lab.measure_words import asked_from
from stillroom.readers.registers.cells import Cell
from stillroom.records.publishing import Dispute, Round


def margin_told(cell: Cell) -> str:
    """The words of a cell of margins: a bare number takes the unit of its column's header."""
    is_bare = cell.text.replace(".", "").replace(",", "").isdigit()
    return f"{cell.text} {cell.unit}" if cell.unit and is_bare else cell.text


def check_round(told: Round, row: Mapping[str, Cell]) -> None:
    """Refuse a row that registers nothing: no such measure, or a margin that it can't have.

    Raises
    ------
    BadInput, UnknownThing, Contradiction : names the cell.
    """
    asked = _asked(told.measure, row["measure"])
    if told.margin:
        margin_in(told.margin, asked.measure, row["margin"].place)


def check_dispute(told: Dispute, row: Mapping[str, Cell]) -> None:
    """Refuse a dispute about a measure that there isn't, and a reply before it.

    Raises
    ------
    BadInput, UnknownThing, Contradiction : names the cell.
    """
    if told.measure:
        _asked(told.measure, row["measure"])
    if told.reply_date and told.reply_date < told.since:
        cell = row["reply date"]
        expected = f"a day from {told.since} on, since when it is disputed"
        raise BadInput("column 'reply date'", place=cell.place, found=repr(cell.text), expected=expected)


def _asked(told: str, cell: Cell) -> Asked:
    try:
        return asked_from(told, cell.place)
    except StillroomError as error:
        place = error.place or cell.place
        raise type(error)(error.thing, place=place, found=error.found, expected=error.expected) from None
