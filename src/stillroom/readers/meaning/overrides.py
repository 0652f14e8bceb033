"""What is said by hand of how a file is to be read, as it comes from `--as KEY=VALUE`:

unit:HEADER=UNIT          the unit of a column; where its header states a wrong one, by the whole header
column:HEADER=QUANTITY    what a column holds; "none" leaves it out
delimiter= decimal= encoding= sheet=
thousands=MARK            the mark between groups of three digits; "none", or "blank" for any blank
dates=dmy                 how local dates are written: dmy, mdy or ymd
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnknownThing
from stillroom.readers.grids.grid import DELIMITER_WORDS, Grid, grids_of
from stillroom.readers.source import Source
from stillroom.readers.words.dates import ORDERS
from stillroom.readers.words.headers import Header, squeeze
from stillroom.vocabulary import is_unit, unit

GRID_KEYS = ("delimiter", "decimal", "encoding", "sheet", "thousands", "dates")
COLUMN_KEYS = ("unit:", "column:")
LEAVE_OUT = frozenset({"none", "-", ""})


def is_layout_key(key: str) -> bool:
    """Whether an override's key is about reading a file (and not about names or accuracies)."""
    return key in GRID_KEYS or key.startswith(COLUMN_KEYS)


@dataclass(frozen=True)
class Said:
    """What was said by hand of how the numbers and dates of a file are written.

    Parameters
    ----------
    decimal, dates : empty where nothing was said. thousands : None where nothing was said, "" for none.
    """

    decimal: str = ""
    thousands: str | None = None
    dates: str = ""


def said_of(source: Source, overrides: Mapping[str, str]) -> Said:
    """What was said of numbers and dates.

    Raises
    ------
    BadInput : it is none of the known words.
    """
    thousands: str | None = None
    if "thousands" in overrides:
        word = overrides["thousands"]
        words = {"none": "", "": "", "blank": " ", "’": "'"}
        thousands = words.get(word.strip(), words.get(word, word.strip()))
        if thousands not in {"", ",", ".", "'", " "} or (thousands and thousands == overrides.get("decimal")):
            expected = "one of ',' '.' \"'\" blank none, and not the decimal mark"
            raise BadInput("thousands", place=source.name, found=repr(word), expected=expected)
    dates = overrides.get("dates", "").strip().casefold()
    if dates and dates not in ORDERS:
        raise BadInput("dates", place=source.name, found=repr(dates), expected=", ".join(ORDERS))
    return Said(overrides.get("decimal", ""), thousands, dates)


def grids(source: Source, overrides: Mapping[str, str] | None = None) -> tuple[Grid, ...]:
    """The grids of a source, with the overrides that concern how it is written.

    Raises
    ------
    BadInput : an override has an unknown key.
    StillroomError : as `grids_of`.
    """
    said = dict(overrides or {})
    unknown = [key for key in said if not is_layout_key(key)]
    if unknown:
        expected = "one of unit:HEADER, column:HEADER, " + ", ".join(GRID_KEYS)
        raise BadInput("--as", place=source.name, found=repr(unknown[0]), expected=expected)
    words = {word: mark for mark, word in DELIMITER_WORDS.items() if mark}
    delimiter = said.get("delimiter", "")
    return grids_of(
        source,
        encoding=said.get("encoding", ""),
        delimiter=words.get(delimiter, delimiter),
        decimal=said.get("decimal", ""),
        sheet=said.get("sheet", ""),
    )


def by_header(
    grid: Grid, headers: Sequence[Header], overrides: Mapping[str, str], prefix: str
) -> dict[int, str]:
    """{column index: value} of the overrides with this prefix; names are compared without case and blanks."""
    chosen: dict[int, str] = {}
    for key, value in overrides.items():
        if not key.startswith(prefix):
            continue
        wanted = squeeze(key.removeprefix(prefix))
        whole = [i for i, each in enumerate(headers) if squeeze(each.text) == wanted]
        hits = whole or [i for i, each in enumerate(headers) if squeeze(each.name) == wanted]
        if not hits or not wanted:
            raise UnknownThing(
                f"--as {key!r}",
                place=grid.place(),
                found="no such column",
                expected="one of " + ", ".join(repr(each.text) for each in headers if each.text),
            )
        if len(hits) > 1:
            found = " and ".join(f"column {i + 1} ({headers[i].text!r})" for i in hits)
            raise Contradiction(f"--as {key!r}", place=grid.place(), found=found, expected="one column")
        if prefix == "unit:" and not whole:
            _refuse_other_unit(grid, headers[hits[0]], key, value)
        chosen[hits[0]] = value.strip()
    return chosen


def _refuse_other_unit(grid: Grid, header: Header, key: str, value: str) -> None:
    """A unit told by a column's bare name fills in what a file doesn't say; what its header says it doesn't move."""
    stated, told = header.unit, value.strip()
    if is_unit(stated) and (not is_unit(told) or unit(stated) != unit(told)):
        raise Contradiction(
            f"--as {key!r}",
            place=grid.place(),
            found=f"{told!r}, and the header {header.text!r} says {stated!r}",
            expected=f"--as 'unit:{header.text}={told}' where the file is wrong; else this file without it",
        )
