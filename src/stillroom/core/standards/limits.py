"""How a standard's limits are written down, and how a value that leaves them is marked.

A limit is data: a check, a finding and the documentation read the same one. Leaving the range of a standard
is marked beside the value (`Flag`); a value that can't exist at all raises `OutOfRange`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntFlag

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange

Flags = NDArray[np.uint16]
"""An array of `Flag` values, one beside each result."""


class Flag(IntFlag):
    """Why a result is not fully covered by its standard (0: it is)."""

    NONE = 0
    AIR_TEMPERATURE = 1  # outside the temperatures for which the air formula was published
    AIR_PRESSURE = 2  # outside the pressures for which the air formula was published
    REYNOLDS_LOW = 4  # nozzle Reynolds number below the range of the coefficient: wider uncertainty
    REYNOLDS_OUT = 8  # nozzle Reynolds number so low that the coefficient is not to be used
    NOZZLE_PRESSURE_LOW = 16  # nozzle differential pressure below the window
    NOZZLE_CLOSED = 32  # this nozzle is closed: it has no coefficient
    NO_FLOW = 64  # no differential pressure over an open nozzle: its coefficient has no value
    DENSITY_CORRECTION = 128  # conversion over a wide step of density
    SPEED_CORRECTION = 256  # conversion over a wide step of speed
    COMPRESSIBILITY = 512  # the compressibility coefficient can't be taken as 1


@dataclass(frozen=True)
class Limit:
    """One limit of validity.

    Parameters
    ----------
    name : what is limited, in words.
    symbol : its symbol in the standard.
    unit : its SI unit.
    low, high : the closed range that is allowed.
    flag : what a value outside is marked with.
    source : where the limit is printed, or "from memory", or "common practice".
    """

    name: str
    symbol: str
    unit: str
    low: float
    high: float
    flag: Flag
    source: str

    def flags(self, values: ArrayLike) -> Flags:
        """The flag beside each value that lies outside, 0 beside the others; shape of `values`."""
        values = np.asarray(values, dtype=np.float64)
        outside = (values < self.low) | (values > self.high)
        return np.multiply(outside, np.uint16(self.flag), dtype=np.uint16)


def has(flags: Flags, flag: Flag) -> NDArray[np.bool_]:
    """Where a flag is set; shape of `flags`."""
    marked: NDArray[np.bool_] = (flags & np.uint16(flag)) != 0
    return marked


def require(
    name: str,
    values: ArrayLike,
    allowed: Callable[[Array], NDArray[np.bool_]],
    expected: str,
    unit: str = "",
) -> Array:
    """The values as an array, provided that every one of them can exist.

    Parameters
    ----------
    name : what they are, in words.
    values : any shape.
    allowed : which of them can exist: one interval, and False for a NaN.
    expected : the condition in words.
    unit : unit for the message.

    Raises
    ------
    OutOfRange : naming the first value that can't exist, and its index.
    """
    array = np.asarray(values, dtype=np.float64)
    if array.size and not allowed(np.array((array.min(), array.max()))).all():
        good = allowed(array)
        index = tuple(int(each) for each in np.argwhere(~good)[0])
        raise OutOfRange(
            name,
            place=f"value {list(index)}" if index else "",
            found=f"{array[index]:g} {unit}".rstrip(),
            expected=expected,
        )
    return array


def require_positive(name: str, values: ArrayLike, unit: str = "") -> Array:
    """The values as an array, provided that all are finite and above zero."""
    return require(name, values, lambda v: (v > 0.0) & (v < np.inf), "above zero and finite", unit)


def require_not_negative(name: str, values: ArrayLike, unit: str = "") -> Array:
    """The values as an array, provided that all are finite and not below zero."""
    return require(name, values, lambda v: (v >= 0.0) & (v < np.inf), "not below zero, and finite", unit)


def require_fraction(name: str, values: ArrayLike) -> Array:
    """The values as an array, provided that all lie in 0 … 1."""
    return require(name, values, lambda v: (v >= 0.0) & (v <= 1.0), "within 0 … 1", "")


def require_finite(name: str, values: ArrayLike, unit: str = "") -> Array:
    """The values as an array, provided that all are finite numbers."""
    return require(name, values, np.isfinite, "a finite number", unit)
