"""Two columns that hold one quantity: the same values twice are passed over, different ones contradict."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.readers.words.marks import Marks
from stillroom.readers.words.numbers import parse_number, part_unit
from stillroom.vocabulary import unit


def same_values(
    first: Sequence[str], first_unit: str, second: Sequence[str], second_unit: str, marks: Marks
) -> int:
    """The index of the first pair of cells that doesn't show one value, or -1.

    In one unit the numbers have to be equal; in two units they have to agree within their rounding.
    """
    for index, (one, other) in enumerate(zip(first, second, strict=True)):
        if one.strip() == other.strip() and first_unit == second_unit:
            continue
        try:
            value, half = _si(one, first_unit, marks)
            value_2, half_2 = _si(other, second_unit, marks)
        except ValueError:
            return index
        rounding = 0.0 if first_unit == second_unit else (half + half_2) * (1 + 1e-9)
        if abs(value - value_2) > rounding:
            return index
    return -1


def _si(cell: str, symbol: str, marks: Marks) -> tuple[float, float]:
    """A cell's value in SI, and half of its last digit."""
    text = part_unit(cell)[0].strip()
    known = unit(symbol)
    value = parse_number(text, marks.decimal, marks.thousands)
    return value * known.factor + known.offset, 0.5 * last_digit(text, marks.decimal) * known.factor


def last_digit(text: str, decimal: str) -> float:
    """What one step of a number's last printed digit is worth."""
    mantissa, _, exponent = text.casefold().partition("e")
    decimals = len(mantissa.rpartition(decimal)[2].strip()) if decimal in mantissa else 0
    return float(10.0 ** (int(exponent or 0) - decimals))
