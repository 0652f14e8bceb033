"""A line under a table that holds the mean of its readings without a word that says so."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from stillroom.readers.marks import Marks
from stillroom.readers.numbers import Array, parse_numbers
from stillroom.readers.twins import last_digit

WHY = "the mean of the readings above, without a word"
_FEWEST = 4
_LOOKED_AT = 4
_COARSEST = 0.02


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
    for index in range(max(_FEWEST, count - _LOOKED_AT), count):
        shown = 0
        for name, values in columns.items():
            above = values[:index]
            span = float(np.ptp(above))
            if span <= 0:
                continue
            far = abs(float(values[index]) - float(above.mean()))
            if far > 0.01 * span:
                break  # quick: not near, whatever its digits
            worth = step(name, index)
            if far > 0.5 * worth * (1 + 1e-9) + 1e-12 * span:
                break
            shown += worth <= _COARSEST * span
        else:
            if shown >= 2:
                return index
    return -1
