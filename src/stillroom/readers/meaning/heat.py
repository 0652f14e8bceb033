"""What the columns of a heat rig's log hold, where their names leave it open.

"Voltage" is the heater's where no fan draws so much; "flow" is the liquid's; every probe of the air before the radiator
is one of several; a bare pressure near one atmosphere is the barometer's.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from enum import Enum, auto

import numpy as np

from stillroom.readers.heat.stamps import is_epoch_text, is_number_text
from stillroom.readers.meaning.decided import UNTOLD, Decided
from stillroom.readers.words.dates import is_clock, is_date
from stillroom.readers.words.headers import DATE, NOZZLES, TIME, Header, quantities_for, text_column_for
from stillroom.readers.words.heat import air_number, free_probe, heater_word, log_word
from stillroom.readers.words.kinds import (
    BESIDE_HEAT,
    HEAT_QUANTITIES,
    REQUIRED,
    may_be_airflow,
    may_be_control,
)
from stillroom.readers.words.numbers import part_unit
from stillroom.vocabulary import BY_NAME, air_probe, is_unit, to_si, unit

CERTAIN = frozenset(each for each in HEAT_QUANTITIES if not each.startswith("air_"))
"""Quantities that no other rig has: one of them beside a time, and the table is a log of the heat rig."""

MOST_FAN_POWER, MOST_FAN_VOLTAGE = 30.0, 26.0
"""More than this no fan draws [W], and none is supplied with [V]: it is the heater's (common practice of fans for
computers, 5 to 24 V)."""

_TO_HEATER = {"voltage": "heater_voltage", "current": "heater_current", "power": "heater_power"}
_ATMOSPHERE = (85e3, 110e3)
_LOOKED_AT = 400


class Family(Enum):
    """What kind of rig a table may come from, by the names of its columns."""

    AIRFLOW = auto()
    HEAT = auto()
    OTHER = auto()


def family_of(headers: Sequence[Header], possible: Collection[str], named: Collection[str]) -> Family:
    """From which kind of rig a table comes.

    Parameters
    ----------
    headers : its columns. possible : quantities and text columns that they can stand for. named : quantities that were
    told by hand.
    """
    if may_be_airflow(possible) and any(_is_of_air(header) for header in headers):
        return Family.AIRFLOW
    timed = TIME in possible or TIME in named or DATE in possible
    certain = any(name in HEAT_QUANTITIES for name in named) or is_certain(headers)
    if timed and certain and NOZZLES not in possible:
        return Family.HEAT
    if may_be_airflow(possible):
        return Family.AIRFLOW
    every = {*possible, *named}
    sounds = any(all(name in every for name in required) for kind, required in REQUIRED if kind.is_sound)
    if not timed or sounds:
        return Family.OTHER
    beside = any(name in every for name in (*HEAT_QUANTITIES, *BESIDE_HEAT))
    return Family.HEAT if beside or may_be_control(every) else Family.OTHER


_OF_AIR = frozenset({"m³/s", "m³/h", "m³/min", "CFM"})
"""Units of flow in which a chamber's air is told, and no liquid of a small loop."""


def _is_of_air(header: Header) -> bool:
    """Whether a column can only be the flow of air."""
    is_flow = any(each.name == "flow" for each in quantities_for(header.name))
    return is_flow and is_unit(header.unit) and unit(header.unit).symbol in _OF_AIR


def is_certain(headers: Sequence[Header]) -> bool:
    """Whether a column can only be a heat rig's."""
    return any(
        found and all(each.name in CERTAIN for each in found)
        for found in (quantities_for(header.name) for header in headers)
    )


def told_by_words(header: Header, in_row: str) -> str:
    """What a column of a log holds by the words of loggers; "" where they say nothing, or its unit is of another
    quantity.

    Parameters
    ----------
    in_row : the unit that the row of units states.
    """
    name, stated = log_word(header.name), header.unit or in_row
    if is_unit(stated) and (of_heater := heater_word(header.name, unit(stated).dimension)):
        return of_heater
    fits = not is_unit(stated) or not name or unit(stated).dimension == BY_NAME[name].dimension
    return name if fits else ""


def settle_heat(
    headers: Sequence[Header],
    decided: Sequence[Decided],
    cells: Sequence[Sequence[str]],
    by_hand: Collection[int],
) -> list[Decided]:
    """The columns of a log with what their names leave open settled.

    Parameters
    ----------
    cells : of each column. by_hand : the columns that were named by hand: they stay.
    """
    settled = _of_heater(decided, cells, by_hand)
    settled = _probes(headers, settled, by_hand)
    for index, each in enumerate(settled):
        column, some = each.column, [cell for cell in cells[index][:_LOOKED_AT] if cell.strip()]
        if column.quantity == "static_pressure" and index not in by_hand:
            settled[index] = _of_pressure(each, some)
        elif column.quantity == TIME and not column.unit and some and all(map(is_number_text, some)):
            if not is_epoch_text(some[0]):
                settled[index] = replace(each, where=UNTOLD)
        elif column.quantity == DATE and some and _has_clock(some[0]) and not _has(settled, TIME):
            settled[index] = replace(each, column=replace(column, quantity=TIME))
    return settled


def _has(decided: Sequence[Decided], quantity: str) -> bool:
    return any(each.column.quantity == quantity for each in decided)


def _has_clock(cell: str) -> bool:
    return is_date(cell) and ":" in cell


def _of_heater(
    decided: Sequence[Decided], cells: Sequence[Sequence[str]], by_hand: Collection[int]
) -> list[Decided]:
    """Volts, amps and watts that no fan can have are the heater's, where no other column is."""
    settled = list(decided)
    bare = {
        each.column.quantity: index
        for index, each in enumerate(decided)
        if each.column.quantity in _TO_HEATER and each.column.unit and index not in by_hand
    }
    values = {name: _middle(cells[index], settled[index].column.unit) for name, index in bare.items()}
    watts = values.get("power", values.get("voltage", 0.0) * values.get("current", 0.0))
    heats = watts > MOST_FAN_POWER or values.get("voltage", 0.0) > MOST_FAN_VOLTAGE
    for name, index in bare.items() if heats else ():
        if not _has(settled, _TO_HEATER[name]):
            column = replace(settled[index].column, quantity=_TO_HEATER[name])
            settled[index] = replace(settled[index], column=column)
    return settled


def _probes(headers: Sequence[Header], decided: Sequence[Decided], by_hand: Collection[int]) -> list[Decided]:
    """Each probe of the air before the radiator under a name of its own: by its number, else the next that is free."""
    settled = list(decided)
    taken = {each.column.quantity for at, each in enumerate(decided) if at in by_hand}
    open_ = [
        (air_number(header.name), at)
        for at, (header, each) in enumerate(zip(headers, decided, strict=True))
        if at not in by_hand and each.column.quantity.startswith(air_probe(1))
    ]
    from_nought = any(number == 0 and headers[at].name.strip()[-1:] == "0" for number, at in open_)
    for number, at in sorted(open_, key=lambda each: (each[0] == 0 and not from_nought, each[1])):
        name = free_probe(number + int(from_nought), taken)
        taken.add(name)
        column = replace(settled[at].column, quantity=name)
        settled[at] = replace(settled[at], column=column) if name else Decided(replace(column, unit=""))
    return settled


def _of_pressure(each: Decided, cells: Sequence[str]) -> Decided:
    """A bare pressure: the barometer's where it is near one atmosphere, else that of the pump, which isn't read."""
    column = each.column
    if column.unit and _ATMOSPHERE[0] <= _middle(cells, column.unit) <= _ATMOSPHERE[1]:
        return replace(each, column=replace(column, quantity="barometric_pressure"))
    return Decided(replace(column, quantity="", unit="", in_cells=False), "a pressure in the loop")


def _middle(cells: Sequence[str], symbol: str) -> float:
    """The median of a column [SI], with either decimal mark; 0.0 where it holds hardly a number."""
    numbers = []
    for cell in cells[:_LOOKED_AT]:
        text = part_unit(cell)[0].strip().replace(",", ".")
        try:
            numbers.append(float(text))
        except ValueError:
            continue
    return to_si(float(np.median(numbers)), symbol) if numbers else 0.0


def unnamed(
    headers: Sequence[Header], decided: Sequence[Decided], cells: Sequence[Sequence[str]]
) -> dict[str, str]:
    """{header: dimension of its unit, "" where none is stated} of the columns with numbers that name no quantity."""
    found: dict[str, str] = {}
    for index, (header, each) in enumerate(zip(headers, decided, strict=True)):
        if each.column.quantity or each.column.left or not header.text or each.where:
            continue
        some = [cell.strip() for cell in cells[index][:_LOOKED_AT] if cell.strip()]
        numbers = sum(1 for cell in some if _is_number(cell))
        if (
            not numbers
            or 2 * numbers < len(some)
            or text_column_for(header.name)
            or any(map(is_clock, some[:1]))
        ):
            continue
        stated = header.unit or each.column.stated
        found[header.text] = _dimension(stated)
    return found


def _is_number(cell: str) -> bool:
    try:
        float(part_unit(cell)[0].replace(",", "."))
    except ValueError:
        return False
    return True


def _dimension(symbol: str) -> str:
    return unit(symbol).dimension if is_unit(symbol) else ""
