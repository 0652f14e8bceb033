"""A line under a table that holds the mean of its readings without a word that says so."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np

from stillroom.readers.reading.twins import last_digit
from stillroom.readers.words.marks import Marks
from stillroom.readers.words.numbers import Array, parse_numbers

WHY = "the mean of the readings above, without a word"
_FEWEST = 4
_LOOKED_AT = 4
_COARSEST, _NEAR = 0.02, 0.01


def mean_in_cells(columns: Sequence[Sequence[str]], marks: Marks) -> int:
    """`mean_at` for columns of cells; -1 where any of them is no number."""
    numbers: dict[str, Array] = {}
    for name, cells in enumerate(columns):
        values, bad = parse_numbers(cells, marks.decimal, marks.thousands)
        if bad >= 0:
            return -1
        numbers[str(name)] = values
    return mean_at(numbers, lambda name, index: last_digit(columns[int(name)][index], marks.decimal))


def mean_at(columns: Mapping[str, Array], step: Callable[[str, int], float]) -> int:
    """The index of the line that holds the mean of all readings above it, or -1.

    Only among the last few lines; at least two columns that vary have to show the mean within half of
    their last digit, which has to be fine beside their range, and none may show anything else. The lines
    under it are further statistics.

    Parameters
    ----------
    columns : {quantity: values}. step : (quantity, index) → what one step of that cell's last digit is worth.
    """
    count = min((len(values) for values in columns.values()), default=0)
    with np.errstate(over="ignore", invalid="ignore"):  # what overflows is no mean
        for index in range(max(_FEWEST, count - _LOOKED_AT), count):
            shown = [_shows(values, index, partial(step, name)) for name, values in columns.items()]
            if all(each is not None for each in shown) and sum(bool(each) for each in shown) >= 2:
                return index
    return -1


def _shows(values: Array, index: int, step: Callable[[int], float]) -> bool | None:
    """Whether a column shows the mean at an index; False where it says nothing, None where it differs."""
    above = values[:index]
    span = float(np.ptp(above))
    if span <= 0:
        return False
    far = abs(float(values[index]) - float(above.mean()))
    if not far <= _NEAR * span:
        return None  # whatever its digits
    worth = step(index)
    if not far <= 0.5 * worth * (1 + 1e-9) + 1e-12 * span:
        return None
    return worth <= _COARSEST * span
