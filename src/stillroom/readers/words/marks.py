"""Which marks a file's numbers are written with: the decimal mark and the mark between groups of three.

Only what can't be read otherwise counts as evidence: 36,5 shows a decimal comma, 1.234,5 both marks, 1 234 a
blank between groups. 1,234 shows nothing; where only such numbers stand, the marks are asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from stillroom.errors import BadInput, Contradiction

BLANK_MARKS = " \u00a0\u2009\u202f"
"""Blanks that stand between groups of digits: plain, no-break, thin, narrow no-break."""

APOSTROPHES = "'\u2019"

_BODY = re.compile(
    rf"[+\-−–]?(?P<body>[.,]?\d[\d.,{APOSTROPHES}{BLANK_MARKS}]*?)(?P<exponent>[eE][+\-]?\d+)?", re.ASCII
)
_MARK = re.compile(r"\D")
_AMBIGUOUS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_SIGNS = "+-−–"
_LONGEST = 64
_OTHER = {",": ".", ".": ","}


@dataclass(frozen=True)
class Marks:
    """The decimal mark ("." or ",") and the mark between groups ("", ",", ".", "'", " " for any blank)."""

    decimal: str
    thousands: str = ""


@dataclass
class _Evidence:
    """What was seen, each with the first cell that shows it."""

    decimal: dict[str, str] = field(default_factory=dict)
    thousands: dict[str, str] = field(default_factory=dict)
    either: dict[str, str] = field(default_factory=dict)
    grouped: set[str] = field(default_factory=set)  # marks that a whole column shows to part groups
    whole: set[str] = field(default_factory=set)  # marks that stand beside four digits and more in a column
    long: bool = False  # a number of four digits and more without a mark between groups


def marks_of(
    columns: Iterable[Sequence[str]],
    place: str,
    *,
    decimal: str = "",
    thousands: str | None = None,
    points: bool = False,
) -> Marks:
    """The marks of a table's numbers, from the cells of all its measured columns.

    Parameters
    ----------
    columns : the cells of each column that is read as numbers.
    place : the file, for messages.
    decimal, thousands : what was said by hand; "" or None where nothing was (thousands "" says: none).
    points : whether a point is a decimal mark in any case (cells of a sheet; columns parted by commas); a cell
        with another mark is then named when it is read. Not so where only 1.234 and 987 stand in a column.

    Raises
    ------
    BadInput : numbers such as 1,234 or 1.234 leave the marks open; says what to pass.
    Contradiction : two marks occur in one role, or one mark in both.
    """
    seen = _Evidence()
    for cells in columns:
        _look(cells, seen)
    if points and "." in seen.either and ("." in seen.decimal or "." not in seen.grouped):
        seen.decimal.setdefault(".", seen.either.pop("."))
    if points and "." in seen.decimal:
        seen.decimal.pop(",", None)
    mark = decimal or _decimal(seen, place, thousands or "")
    if thousands is not None:
        return Marks(mark, thousands)
    return Marks(mark, _thousands(seen, mark, place))


def _look(cells: Iterable[str], seen: _Evidence) -> None:
    """Add a column's evidence."""
    either: dict[str, str] = {}
    hundreds = long = False
    for cell in dict.fromkeys(cells):
        text = cell.strip()
        first, mark, rest = _parted(text.lstrip(_SIGNS))
        if first.isdecimal() and (not mark or (rest.isdecimal() and len(rest) != 3)):  # as nearly all are
            if mark:
                seen.decimal.setdefault(mark, cell)
            long = long or len(first) > 3
            hundreds = hundreds or len(first) == 3
            continue
        hit = _BODY.fullmatch(text[:_LONGEST])
        if hit is None:
            continue
        body = hit["body"].strip(BLANK_MARKS)
        found = _MARK.findall(body)
        if not found:
            continue
        marks = ["'" if mark in APOSTROPHES else mark if mark in ".," else " " for mark in found]
        if len(marks) == 1 and _AMBIGUOUS.fullmatch(body) and not hit["exponent"]:
            either.setdefault(marks[0], cell)
            continue
        whole = _MARK.split(body)[0]
        long = long or len(whole) > 3
        hundreds = hundreds or len(whole) == 3
        _shown(body, marks, cell, seen)
    for mark, cell in either.items():
        seen.either.setdefault(mark, cell)
        if hundreds and not long:
            seen.grouped.add(mark)
        if long:
            seen.whole.add(mark)
    seen.long = seen.long or long


def _parted(text: str) -> tuple[str, str, str]:
    """A text at its only comma or point."""
    first, mark, rest = text.partition(".")
    return (first, mark, rest) if mark else text.partition(",")


def _shown(body: str, marks: list[str], cell: str, seen: _Evidence) -> None:
    """What one number with marks shows; nothing where it is none in any notation."""
    groups = _MARK.split(body)
    last = marks[-1]
    between = marks[:-1]
    if last in ".," and last not in between:
        if between and not (len(set(between)) == 1 and _grouped(groups[:-1])):
            return
        seen.decimal.setdefault(last, cell)
        if between:
            seen.thousands.setdefault(between[0], cell)
    elif len(set(marks)) == 1 and _grouped(groups):
        seen.thousands.setdefault(last, cell)


def _grouped(groups: Sequence[str]) -> bool:
    return 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])


def _decimal(seen: _Evidence, place: str, thousands: str) -> str:
    if len(seen.decimal) > 1:
        raise Contradiction(
            "decimal mark",
            place=place,
            found=f"both {seen.decimal[',']!r} and {seen.decimal['.']!r}",
            expected="one decimal mark in a file, or --as decimal=, (or decimal=.)",
        )
    if seen.decimal:
        return next(iter(seen.decimal))
    groups = [each for each in (thousands, *seen.thousands) if each in _OTHER]
    if groups:
        return _OTHER[groups[0]]
    if not seen.either:
        return "."
    if len(seen.either) == 1:
        mark, cell = next(iter(seen.either.items()))
        if seen.thousands or mark in seen.whole or (mark == "." and seen.long):
            return mark  # groups are parted otherwise, or not at all
        either, other = cell.replace(mark, "."), cell.replace(mark, "")
        raise BadInput(
            "decimal mark",
            place=place,
            found=f"{cell!r}, which can mean {either} or {other}",
            expected=f"--as decimal={mark} where it is the decimal mark, --as thousands={mark} where it "
            "stands between groups of three digits",
        )
    raise BadInput(
        "decimal mark",
        place=place,
        found=f"both {seen.either[',']!r} and {seen.either['.']!r}, of which either can be a thousand",
        expected="--as decimal=, or --as decimal=.",
    )


def _thousands(seen: _Evidence, decimal: str, place: str) -> str:
    found = dict(seen.thousands)
    other = _OTHER[decimal]
    if len(found) > 1 or decimal in found:
        shown = " and ".join(repr(cell) for cell in (*seen.decimal.values(), *found.values()))
        raise Contradiction(
            "marks of the numbers",
            place=place,
            found=shown,
            expected="one decimal mark and one mark between groups of three digits, or --as thousands=…",
        )
    if found:
        return next(iter(found))
    if other not in seen.either:
        return ""
    if other in seen.grouped and not seen.long:
        return other  # below a thousand without the mark, above always with it
    cell = seen.either[other]
    raise BadInput(
        "mark between groups of digits",
        place=place,
        found=f"{cell!r} in a file whose decimal mark is {decimal!r}",
        expected=f"--as thousands={other} where it means {cell.replace(other, '')}",
    )
