"""Numbers as files write them: strict, with one decimal mark, never NaN or infinite."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_NUMBER = {
    ".": re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII),
    ",": re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d{1,4})?", re.ASCII),
}
_BLANKS = "  \t\u00a0\u202f\ufeff"


def parse_number(text: str, decimal: str = ".") -> float:
    """The number that a cell holds.

    Parameters
    ----------
    text : the raw cell; blanks around it and a typographic minus are admitted.
    decimal : the decimal mark, "." or ",".

    Raises
    ------
    ValueError : the text isn't a finite number in this notation.
    """
    bare = text.strip(_BLANKS).replace("−", "-")
    if not _NUMBER[decimal].fullmatch(bare):
        raise ValueError(text)
    value = float(bare.replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def parse_numbers(cells: Sequence[str], decimal: str = ".") -> tuple[Array, int]:
    """The numbers of a column of cells.

    Returns
    -------
    the numbers up to the first cell that is none, and that cell's index (or -1 when all are numbers).
    """
    joined = "".join(cells)
    if joined.isascii() and "_" not in joined and not (decimal == "," and "." in joined):
        plain = [cell.replace(",", ".") for cell in cells] if decimal == "," else cells
        try:
            fast = np.fromiter(map(float, plain), dtype=np.float64, count=len(cells))
        except ValueError:
            pass  # the slow way below names the cell
        else:
            if bool(np.isfinite(fast).all()):
                return fast, -1
    values: list[float] = []
    for index, cell in enumerate(cells):
        try:
            values.append(parse_number(cell, decimal))
        except ValueError:
            return np.array(values, dtype=np.float64), index
    return np.array(values, dtype=np.float64), -1
