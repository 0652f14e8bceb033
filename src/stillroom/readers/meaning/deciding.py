"""What each column of a table holds, and in which unit: by its header, its unit row, its cells, or by hand."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.readers.grids.grid import Grid, Row
from stillroom.readers.grids.locating import bare
from stillroom.readers.layout import EMPTY, Column, quantity_names
from stillroom.readers.meaning.decided import BY_HAND, IN_CELLS, IN_HEADER, IN_ROW, Decided
from stillroom.readers.meaning.heat import Family, family_of, settle_heat, told_by_words
from stillroom.readers.meaning.levels import settle_levels
from stillroom.readers.meaning.overrides import LEAVE_OUT, by_header
from stillroom.readers.words.absent import absence
from stillroom.readers.words.bands import carries_hertz, must_be_hertz
from stillroom.readers.words.headers import NAMES, TIME, Header, quantities_for, split_header, text_column_for
from stillroom.readers.words.kinds import (
    CONTROL_QUANTITIES,
    HEAT_QUANTITIES,
    HOT,
    SOUND_QUANTITIES,
    may_be_control,
)
from stillroom.readers.words.nearest import nearest
from stillroom.readers.words.numbers import part_unit
from stillroom.vocabulary import BY_NAME, UNITS, Quantity, is_unit, unit


def decide(
    grid: Grid, header: Row, units: Row | None, rows: Sequence[Row], overrides: Mapping[str, str]
) -> list[Decided]:
    """Each column's quantity and unit; a unit that isn't stated is left empty.

    Parameters
    ----------
    header, units : the table's rows of names and units. rows : its readings.

    Raises
    ------
    UnknownUnit : a unit is unknown.
    Contradiction : a unit doesn't fit its column's name, or is stated in two ways.
    BadInput, UnknownThing : an override is wrong.
    """
    headers = [split_header(cell) for cell in header.cells]
    named = by_header(grid, headers, overrides, "column:")
    given = by_header(grid, headers, overrides, "unit:")
    stated = units.cells if units else []
    names = possible(header)
    family = family_of(headers, names, named.values())
    without_sound = family is not Family.OTHER
    decided = []
    columns: list[list[str]] = []
    for index, each in enumerate(headers):
        place = grid.place(header.line, index + 1)
        in_row = stated[index].strip() if index < len(stated) else ""
        cells = [row.cells[index] for row in rows if index < len(row.cells)]
        columns.append(cells)
        by_hand = named.get(index)
        if by_hand is None and _is_left_out(each, family, names):
            by_hand = next(iter(LEAVE_OUT))
        elif family is Family.HEAT and by_hand not in BY_NAME:
            told = each if by_hand is None else replace(each, name=by_hand)
            by_hand = told_by_words(told, bare(in_row)) or by_hand
        decided.append(_column(each, in_row, cells, place, by_hand, given.get(index)))
    settled = _one_time(_settle_dp(headers, decided))
    if family is Family.HEAT:
        return settle_heat(headers, settled, columns, named)
    return settled if without_sound else settle_levels(grid, header, headers, settled)


def _is_left_out(header: Header, family: Family, names: Collection[str]) -> bool:
    """Whether a column is of another rig than the table: sound beside airflow or heat, heat beside these, and what
    only tests of the control hold."""
    of_sound = family is not Family.OTHER and _is_only_of(header, SOUND_QUANTITIES)
    of_heat = family is not Family.HEAT and _is_only_of(header, HEAT_QUANTITIES)
    if family is Family.OTHER and may_be_control(names) and _is_only_of(header, {HOT}):
        of_heat = (
            False  # a heat run whose times can't be found is refused, not taken for a test of the control
        )
    of_control = not may_be_control(names) and _is_only_of(header, CONTROL_QUANTITIES)
    return of_sound or of_heat or of_control


def possible(header: Row) -> set[str]:
    """All quantities and text columns that a header's names can stand for."""
    names = [split_header(cell).name for cell in header.cells]
    texts = {text for name in names if (text := text_column_for(name))}
    found = texts | {each.name for name in names for each in quantities_for(name)}
    if "frequency" in found and found & {"sound_level", "fast_level"}:
        found.add("band_level")  # a level beside a frequency is that of a band
    return found | ({"sound_level"} if "fast_level" in found else set())


def _is_only_of(header: Header, quantities: Collection[str]) -> bool:
    """Whether a column's name can only stand for some quantities: those of sound, or of the control."""
    found = quantities_for(header.name)
    return bool(found) and all(each.name in quantities for each in found)


def _column(
    header: Header, stated: str, cells: Sequence[str], place: str, named: str | None, given: str | None
) -> Decided:
    column = Column(header.text, stated=stated)
    if named is not None and named.strip().casefold() in LEAVE_OUT:
        return Decided(column)
    candidates, text = _candidates(header, place, named)
    if not candidates and not text:
        if given is not None:
            raise BadInput(
                f"column {header.text!r}",
                place=place,
                found="a name that stands for no quantity",
                expected=f"also --as 'column:{header.text}=QUANTITY'",
            )
        return Decided(column)
    if cells and candidates and all(not cell.strip() or absence(cell) for cell in cells):
        return Decided(replace(column, left=EMPTY))
    where, words = _stated_unit(header, bare(stated), place) if given is None else (BY_HAND, given)
    is_frequency = any(each.name == "frequency" for each in candidates)
    hertz_in_cells = is_frequency and carries_hertz(cells)
    inside = _unit_in_cells(header, cells, place) if candidates and not hertz_in_cells else ""
    if hertz_in_cells:
        where, words, inside = IN_CELLS, "Hz", "Hz"
    elif is_frequency and not (words or inside) and must_be_hertz(cells):
        where, words = IN_CELLS, "Hz"
    if inside and words and is_unit(words) and unit(words) != unit(inside):
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found=f"{words!r} stated {where} and {inside!r} in its cells",
            expected=f"the same, or --as 'column:{header.text}=none'",
        )
    column = replace(column, in_cells=bool(inside))
    where, words = (where, words) if words else (IN_CELLS if inside else "", inside)
    if text in NAMES and words:
        return Decided(Column(header.text, stated=stated))  # "Fan [rpm]" names no fan
    if text and not (candidates and words):
        return Decided(replace(column, quantity=text, in_cells=False))
    if not words:
        return Decided(replace(column, quantity=candidates[0].name))
    _check_named(header, named, candidates, words, place)
    return Decided(_with_unit(header, column, candidates, words, place), where)


def _check_named(
    header: Header, named: str | None, candidates: tuple[Quantity, ...], words: str, place: str
) -> None:
    """Refuse a quantity told by hand that can't be given in the column's unit; names those that can.

    Raises
    ------
    Contradiction : names the value and the nearest quantities.
    """
    dimension = unit(words).dimension if is_unit(words) else ""
    if named is None or not dimension or any(each.dimension == dimension for each in candidates):
        return
    raise Contradiction(
        f"column {header.text!r} named by hand",
        place=place,
        found=f"{named!r}, and its unit {words}, a unit of {dimension}",
        expected=f"one of {', '.join(nearest(named, dimension))}, or --as 'unit:{header.text}=UNIT'",
    )


def _candidates(header: Header, place: str, named: str | None) -> tuple[tuple[Quantity, ...], str]:
    """The quantities, and the text column, that a header can stand for."""
    name = header.name if named is None else named
    candidates = (BY_NAME[name],) if name in BY_NAME else quantities_for(name)
    text = text_column_for(name)
    if named is not None and not candidates and not text:
        dimension = unit(header.unit).dimension if is_unit(header.unit) else ""
        near = ", ".join(nearest(named, dimension))
        expected = f"{near} …: {quantity_names()}, or none"
        raise BadInput(
            f"column {header.text!r} named by hand", place=place, found=repr(named), expected=expected
        )
    return candidates, text


def _stated_unit(header: Header, in_row: str, place: str) -> tuple[str, str]:
    """Where a unit is stated, and the unit."""
    if (
        header.unit
        and in_row
        and is_unit(header.unit)
        and is_unit(in_row)
        and unit(header.unit) != unit(in_row)
    ):
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found=f"{header.unit!r} in the header and {in_row!r} in the unit row",
            expected=f"the same, or --as 'unit:{header.text}=UNIT'",
        )
    return (IN_HEADER, header.unit) if header.unit else (IN_ROW if in_row else "", in_row)


def _unit_in_cells(header: Header, cells: Sequence[str], place: str) -> str:
    """The unit that every cell carries ("12.3 Pa"); empty where not every one does.

    Raises
    ------
    Contradiction : the cells carry different units.
    """
    words: list[str] = []
    for cell in cells:
        if not cell.strip() or absence(cell):
            continue
        number_unit = part_unit(cell)[1]
        if not number_unit or not is_unit(number_unit):
            return ""
        words.append(number_unit)
    found = {unit(each): each for each in words}
    if len(found) > 1:
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found="cells in " + " and in ".join(repr(each) for each in found.values()),
            expected="one unit in a column",
        )
    return words[0] if words else ""


def _with_unit(
    header: Header, column: Column, candidates: tuple[Quantity, ...], words: str, place: str
) -> Column:
    if not is_unit(words):
        raise UnknownUnit(
            f"unit of column {header.text!r}",
            place=place,
            found=repr(words),
            expected=f"{_examples(candidates)}, or --as 'unit:{header.text}=UNIT'",
        )
    known = unit(words)
    fitting = [each for each in candidates if each.dimension == known.dimension]
    if not fitting:
        raise Contradiction(
            f"unit of column {header.text!r}",
            place=place,
            found=f"{known.symbol}, a unit of {known.dimension}",
            expected=f"{candidates[0].label} in {_examples(candidates)}, or what it holds by "
            f"--as 'column:{header.text}=QUANTITY', such as {nearest(header.name, known.dimension)[0]}",
        )
    return replace(column, quantity=fitting[0].name, unit=known.symbol)


def _examples(candidates: tuple[Quantity, ...]) -> str:
    dimensions = {each.dimension for each in candidates}
    return "one of " + ", ".join(each.symbol for each in UNITS if each.dimension in dimensions)


def _settle_dp(headers: list[Header], decided: list[Decided]) -> list[Decided]:
    """Settle whether a bare "Δp" is a nozzle's or the drop of an obstacle.

    It is the drop where another column is the nozzle's for certain, or where the file has the flow but
    neither nozzles nor a fan's pressure.
    """
    drop = BY_NAME["resistance_pressure"]
    bare_dp = [
        each.column.quantity == "nozzle_pressure" and drop in quantities_for(header.name)
        for header, each in zip(headers, decided, strict=True)
    ]
    present = {each.column.quantity for each in decided}
    pairs = list(zip(decided, bare_dp, strict=True))
    nozzle_is_certain = any(each.column.quantity == "nozzle_pressure" and not open_ for each, open_ in pairs)
    if not nozzle_is_certain and (present & {"nozzles", "static_pressure"} or "flow" not in present):
        return decided
    return [
        replace(each, column=replace(each.column, quantity=drop.name)) if open_ else each
        for each, open_ in pairs
    ]


def _one_time(decided: list[Decided]) -> list[Decided]:
    """Beside a clock the seconds since the start tell nothing more: they are left out."""
    clock = any(each.column.quantity == TIME and not each.column.unit for each in decided)
    if not clock:
        return decided
    return [
        Decided(Column(each.column.header, stated=each.column.stated), "beside a clock")
        if each.column.quantity == TIME and each.column.unit
        else each
        for each in decided
    ]
