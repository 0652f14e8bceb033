"""A Layout says how a measurement file is to be read: what each column holds, in which unit.

It is recognised from a file (`understand` in `understanding.py`) or comes from a saved one; reading by a
layout is strict: the file has exactly the headers and units that the layout names.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property

from stillroom.errors import BadInput
from stillroom.readers.toml import parse_toml
from stillroom.readers.words.headers import TEXT_COLUMNS
from stillroom.readers.words.kinds import kind_of
from stillroom.vocabulary import BY_NAME, unit

LAYOUT_VERSION = 2
READABLE = (1, 2)
"""The versions of a layout that are read; the first had neither block, thousands nor date order."""

EMPTY, SAME = "empty", "same as column "


@dataclass(frozen=True)
class Column:
    """One column of a layout.

    Parameters
    ----------
    header : the header as it stands in the file.
    quantity : the quantity's name in the vocabulary, "nozzles", "point" or "time" for a text column, or
        empty for a column that is left out.
    unit : the unit's symbol in the vocabulary; empty for text and for what is left out.
    stated : the unit as the file's unit row states it; empty where there is none.
    in_cells : whether each cell carries the unit ("12.3 Pa").
    left : of a column that is left out, what must hold of it: EMPTY, or SAME with the number of the column
        that holds the same values; empty where nothing must.
    band : of a column that holds the levels of one band, the band's frequency [Hz]; 0 for any other.
    """

    header: str
    quantity: str = ""
    unit: str = ""
    stated: str = ""
    in_cells: bool = False
    left: str = ""
    band: float = 0.0

    @property
    def twin(self) -> int:
        """The index (from 0) of the column whose values this one repeats, or -1."""
        number = self.left.removeprefix(SAME)
        return int(number) - 1 if self.left.startswith(SAME) and number.isdecimal() else -1


@dataclass(frozen=True)
class Layout:
    """How a measurement file is to be read.

    Parameters
    ----------
    columns : the columns in the file's order, those that are left out included.
    name : the name under which it was saved; empty before.
    delimiter, decimal, encoding : how the text is written; delimiter and encoding are empty for a workbook.
    sheet : the sheet of a workbook; empty for text.
    header_line : the line of the header in the file from which the layout was made.
    unit_row : whether a row of units follows the header.
    block : which table of the text or sheet, from 1; 0 (in layouts of version 1) for the first that has
        these headers.
    thousands : the mark between groups of three digits ("", ",", ".", "'", or " " for any blank).
    date_order : how local dates are written ("", "dmy", "mdy", "ymd").
    log : whether its readings have shown it to be a log of a heat rig's drive: by its columns alone it may be a test of
        the control.
    version : the version of this shape.
    """

    columns: tuple[Column, ...]
    name: str = ""
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    sheet: str = ""
    header_line: int = 1
    unit_row: bool = False
    block: int = 1
    thousands: str = ""
    date_order: str = ""
    log: bool = False
    version: int = LAYOUT_VERSION

    @property
    def quantities(self) -> dict[str, str]:
        """{header: quantity} of the columns that are read."""
        return {each.header: each.quantity for each in self.columns if each.quantity}

    @property
    def units(self) -> dict[str, str]:
        """{quantity: unit symbol} of the columns that are numbers."""
        bands = {"frequency": "Hz"} if self.is_wide else {}
        return bands | {each.quantity: each.unit for each in self.columns if each.unit and each.quantity}

    @property
    def headers(self) -> dict[str, str]:
        """{quantity: header} of the columns that are read."""
        first = next((each.header for each in self.columns if each.band), "")
        bands = {"frequency": first} if first else {}
        return bands | {each.quantity: each.header for each in self.columns if each.quantity}

    @property
    def is_wide(self) -> bool:
        """Whether each band has a column of its own, and a row is all that was measured at once."""
        return any(each.band for each in self.columns)

    @cached_property
    def is_log(self) -> bool:
        """Whether it is a log of the heat rig, whose cells may be empty."""
        try:
            return self.log or kind_of(self.headers, "").is_heat
        except BadInput:
            return False

    @property
    def shape(self) -> tuple[tuple[str, str], ...]:
        """The headers and unit row: files of the same shape can be read by the same layout.

        It doesn't hang on how many readings or tables a file has.
        """
        return tuple((each.header, each.stated) for each in self.columns)

    def to_dict(self) -> dict[str, object]:
        """The layout as plain values, for JSON and TOML."""
        plain: dict[str, object] = {
            each.name: value
            for each in fields(self)
            if each.name != "columns" and ((value := getattr(self, each.name)) or each.name != "log")
        }
        plain["columns"] = [
            {f.name: value for f in fields(each) if (value := getattr(each, f.name)) or f.name != "band"}
            for each in self.columns
        ]
        return plain

    def to_toml(self) -> str:
        """The layout as a TOML file that people can read and share."""
        plain = self.to_dict()
        lines = [f"{key} = {_toml(value)}" for key, value in plain.items() if key != "columns"]
        for column in self.columns:
            lines += ["", "[[columns]]"]
            lines += [
                f"{each.name} = {_toml(value)}"
                for each in fields(column)
                if (value := getattr(column, each.name)) or each.name not in {"in_cells", "left", "band"}
            ]
        return "\n".join(lines) + "\n"

    @classmethod
    def from_toml(cls, text: str, place: str = "layout") -> Layout:
        """The layout that a TOML file holds.

        Raises
        ------
        UnreadableFile : the text isn't TOML.
        BadInput : a value is missing, unknown or of the wrong type.
        """
        return cls.from_dict(parse_toml(text, "layout", place), place)

    @classmethod
    def from_dict(cls, plain: Mapping[str, object], place: str = "layout") -> Layout:
        """The layout that plain values describe; the inverse of `to_dict`.

        Raises
        ------
        BadInput : a value is missing, unknown or of the wrong type.
        """
        _check_keys(plain, {each.name for each in fields(cls)}, place)
        if plain.get("version", LAYOUT_VERSION) not in READABLE:
            found = repr(plain["version"])
            expected = f"at most {LAYOUT_VERSION}"
            raise BadInput("version of the layout", place=place, found=found, expected=expected)
        listed = plain.get("columns")
        if not isinstance(listed, list | tuple) or not listed:
            raise BadInput(
                "columns of the layout", place=place, found=repr(listed), expected="a list of tables"
            )
        columns = tuple(_column(each, f"{place}, columns[{number}]") for number, each in enumerate(listed, 1))
        twice = _first_twice([each.quantity for each in columns if each.quantity and not each.band])
        if twice:
            raise BadInput("layout", place=place, found=f"{twice!r} twice", expected="one column a quantity")
        return cls(
            columns=columns,
            name=_string(plain, "name", place),
            delimiter=_one_of(plain, "delimiter", ("", ",", ";", "\t", "|", " "), place, ","),
            decimal=_one_of(plain, "decimal", (".", ","), place, "."),
            encoding=_string(plain, "encoding", place, "utf-8"),
            sheet=_string(plain, "sheet", place),
            header_line=_number(plain, "header_line", place),
            unit_row=_yes_no(plain, "unit_row", place),
            block=0 if plain.get("version") == 1 else _number(plain, "block", place),
            thousands=_one_of(plain, "thousands", ("", ",", ".", "'", " "), place, ""),
            date_order=_one_of(plain, "date_order", ("", "dmy", "mdy", "ymd"), place, ""),
            log=_yes_no(plain, "log", place),
        )


def _column(plain: object, place: str) -> Column:
    if not isinstance(plain, Mapping):
        raise BadInput("column of the layout", place=place, found=repr(plain), expected="a table")
    _check_keys(plain, {each.name for each in fields(Column)}, place)
    header, stated = _string(plain, "header", place), _string(plain, "stated", place)
    quantity = _string(plain, "quantity", place)
    symbol = _string(plain, "unit", place)
    known = BY_NAME.get(quantity)
    if quantity and known is None and quantity not in TEXT_COLUMNS:
        raise BadInput("quantity", place=place, found=repr(quantity), expected=quantity_names())
    left = _string(plain, "left", place)
    twin = left.removeprefix(SAME)
    if left and (quantity or (left != EMPTY and not (left.startswith(SAME) and twin.isdecimal()))):
        raise BadInput("left", place=place, found=repr(left), expected=f"{EMPTY!r}, or {SAME + '2'!r}")
    if symbol and known is None and twin != left:
        return Column(header, "", unit(symbol, place=place).symbol, stated, left=left)
    if symbol and (known is None or unit(symbol, place=place).dimension != known.dimension):
        expected = f"a unit of {known.dimension}" if known else "no unit"
        raise BadInput(
            f"unit of {quantity or 'a column left out'}", place=place, found=symbol, expected=expected
        )
    if known is not None and not symbol and quantity not in TEXT_COLUMNS:
        raise BadInput(f"unit of {quantity}", place=place, found="none", expected=f"such as {known.unit}")
    symbol = unit(symbol).symbol if symbol else ""
    band = plain.get("band", 0.0)
    if isinstance(band, bool) or not isinstance(band, int | float) or not 0.0 <= band < 1e6:
        raise _wrong("band", place, band, "a frequency in Hz")
    return Column(header, quantity, symbol, stated, _yes_no(plain, "in_cells", place), left, float(band))


def quantity_names() -> str:
    """The names that a column can be given, for messages."""
    return "one of " + ", ".join(dict.fromkeys((*BY_NAME, *TEXT_COLUMNS)))


def _check_keys(plain: Mapping[str, object], known: set[str], place: str) -> None:
    unknown = [key for key in plain if key not in known]
    if unknown:
        expected = "only " + ", ".join(sorted(known))
        raise BadInput("key of the layout", place=place, found=repr(unknown[0]), expected=expected)


def _wrong(key: str, place: str, value: object, expected: str) -> BadInput:
    return BadInput(f"{key} of the layout", place=place, found=repr(value), expected=expected)


def _string(plain: Mapping[str, object], key: str, place: str, default: str = "") -> str:
    value = plain.get(key, default)
    if not isinstance(value, str):
        raise _wrong(key, place, value, "text in quotation marks")
    return value


def _one_of(plain: Mapping[str, object], key: str, allowed: tuple[str, ...], place: str, default: str) -> str:
    value = _string(plain, key, place, default)
    if value not in allowed:
        raise _wrong(key, place, value, "one of " + ", ".join(map(repr, allowed)))
    return value


def _number(plain: Mapping[str, object], key: str, place: str) -> int:
    value = plain.get(key, 1)
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise _wrong(key, place, value, "a line number from 1")
    return value


def _yes_no(plain: Mapping[str, object], key: str, place: str) -> bool:
    value = plain.get(key, False)
    if not isinstance(value, bool):
        raise _wrong(key, place, value, "true or false")
    return value


def _first_twice(names: list[str]) -> str:
    return next((name for place, name in enumerate(names) if name in names[:place]), "")


def _toml(value: object) -> str:
    """A string, number or truth value as TOML; JSON's escapes are TOML's, but for the control DEL."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
