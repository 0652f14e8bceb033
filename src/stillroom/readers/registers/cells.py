"""One cell of a lab's table, turned into a number in SI, a date or a yes only when asked."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.readers.words.numbers import parse_number
from stillroom.vocabulary import is_unit, to_si, unit

YES = frozenset({"yes", "y", "true", "1", "ja", "oui"})
NO = frozenset({"no", "n", "false", "0", "nein", "non"})

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_ISO_TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})?", re.ASCII)
_SHOWN = 80

MOST = 1_000_000_000
"""Nothing that is told in a table is counted beyond this; the lab's index holds no number of any length."""


@dataclass(frozen=True)
class Cell:
    """One cell of a table.

    Parameters
    ----------
    text : what it holds, without blanks around it; empty where it holds nothing.
    place : file, line and column, for messages.
    header : its column's header as it stands in the file.
    unit : the unit that the header or the unit row states; empty where there is none.
    decimal : the file's decimal mark.
    """

    text: str
    place: str
    header: str
    unit: str = ""
    decimal: str = "."

    @property
    def empty(self) -> bool:
        """Whether nothing was told."""
        return not self.text

    def number(self, si_unit: str = "") -> float:
        """The number, in SI.

        Parameters
        ----------
        si_unit : the SI unit of what the column holds ("m"); empty for a plain number without unit.

        Raises
        ------
        BadInput : it is no finite number, or a plain number has a unit.
        UnknownUnit : its unit is unknown, or neither the cell nor the column has one.
        Contradiction : its unit has another dimension.
        """
        text, symbol = self._parted()
        try:
            value = parse_number(text, self.decimal)
        except ValueError:
            raise self._wrong("a finite number" + (f" in {symbol}" if symbol else "")) from None
        if not si_unit:
            if symbol and unit(symbol, place=self.place).symbol != "1":
                raise self._wrong("a plain number without a unit")
            return value
        if not symbol:
            expected = f"a unit in the header, such as '{self.header} [{si_unit}]'"
            raise UnknownUnit(
                f"unit of column {self.header!r}", place=self.place, found="none", expected=expected
            )
        known = unit(symbol, place=self.place)
        if known.dimension != unit(si_unit).dimension:
            expected = f"a unit of {unit(si_unit).dimension}"
            found = f"{known.symbol}, a unit of {known.dimension}"
            raise Contradiction(
                f"unit of column {self.header!r}", place=self.place, found=found, expected=expected
            )
        return to_si(value, known.symbol)

    def whole(self) -> int:
        """The whole number.

        Raises
        ------
        BadInput : it is none.
        """
        value = self.number()
        if not value.is_integer() or abs(value) > MOST:
            raise self._wrong(f"a whole number of at most {MOST:,}")
        return int(value)

    def date(self) -> str:
        """The date in ISO 8601 (year-month-day).

        Raises
        ------
        BadInput : it is another notation, which could mean two dates, or no date.
        """
        if _ISO_DATE.fullmatch(self.text):
            try:
                return dt.date.fromisoformat(self.text).isoformat()
            except ValueError:
                pass  # 30 February and the like: refused below
        raise self._wrong("a date as year-month-day, such as 2026-03-01")

    def time(self) -> str:
        """The date, or date and time, in ISO 8601.

        Raises
        ------
        BadInput : it is another notation, or no time.
        """
        if _ISO_TIME.fullmatch(self.text):
            try:
                return dt.datetime.fromisoformat(self.text).isoformat()
            except ValueError:
                pass  # 25:00 and the like: refused below
            raise self._wrong("a time of the day")
        return self.date()

    def yes_no(self) -> bool:
        """Yes or no.

        Raises
        ------
        BadInput : it is neither.
        """
        word = self.text.casefold()
        if word in YES or word in NO:
            return word in YES
        raise self._wrong("yes or no")

    def names(self) -> tuple[str, ...]:
        """The names that the cell lists, joined by + or ; or commas."""
        return tuple(name.strip() for name in re.split(r"[+;,]", self.text) if name.strip())

    def _parted(self) -> tuple[str, str]:
        """Number and unit: the cell's own unit where it has one ("12.5 mm"), else the column's."""
        number, _, words = self.text.partition(" ")
        if words and is_unit(words):
            if self.unit and unit(words) != unit(self.unit, place=self.place):
                raise Contradiction(
                    f"unit of column {self.header!r}",
                    place=self.place,
                    found=repr(self.text),
                    expected=self.unit,
                )
            return number, words
        return self.text, self.unit

    def _wrong(self, expected: str) -> BadInput:
        found = repr(self.text[:_SHOWN]) if self.text else "an empty cell"
        return BadInput(f"column {self.header!r}", place=self.place, found=found, expected=expected)
