"""Numbers as bytes for a page: quantised to 8 or 16 bits, differences along a row, in base64.

A column says how its codes are read: value = low + step · code, or low · exp(step · code) with code 0 for nought.
Differences of neighbours are small where a table is smooth, so that what a server compresses gets short. Of 16 bits
all high bytes come first.
"""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange

Codes = NDArray[np.int64]


@dataclass(frozen=True)
class Coding:
    """How values are turned into codes and back.

    Parameters
    ----------
    low, step : as above. bits : 8 or 16. log : whether codes stand for logarithms.
    row : how many neighbours make up a row along which differences are kept; 0 for the whole column; 1: no differences.
    """

    low: float
    step: float
    bits: int = 8
    log: bool = False
    row: int = 1

    @property
    def most(self) -> int:
        """The greatest code."""
        return int(2**self.bits - 1)

    def codes(self, name: str, values: Array) -> Codes:
        """Codes of values; of a signless logarithm 0 where the value is below half of `low`, else 1 or more.

        Raises
        ------
        OutOfRange : a value that has no code, or is not a number.
        """
        values = np.asarray(values, dtype=np.float64).ravel()
        if self.log:
            with np.errstate(divide="ignore"):
                codes = np.where(
                    values < self.low / 2.0,
                    0.0,
                    1.0 + np.log(np.maximum(values, self.low) / self.low) / self.step,
                )
        else:
            codes = (values - self.low) / self.step
        codes = np.rint(codes)
        if not np.isfinite(codes).all() or codes.min(initial=0) < 0 or codes.max(initial=0) > self.most:
            raise OutOfRange(
                f"column {name}", found=f"{values.min()} to {values.max()}", expected=self._reach
            )
        return codes.astype(np.int64)

    @property
    def _reach(self) -> str:
        top = (
            self.low * math.exp(self.step * (self.most - 1)) if self.log else self.low + self.step * self.most
        )
        return f"{self.low} to {top:.4g}"

    def values(self, codes: Codes) -> Array:
        """What codes stand for."""
        if self.log:
            return np.where(codes == 0, 0.0, self.low * np.exp(self.step * (codes - 1.0)))
        return np.asarray(self.low + self.step * codes)

    def held(self, values: Array) -> Array:
        """Values brought to those that have a code."""
        top = (
            self.low * math.exp(self.step * (self.most - 1)) if self.log else self.low + self.step * self.most
        )
        return np.clip(values, 0.0 if self.log else self.low, top)


def packed(name: str, coding: Coding, values: Array) -> dict[str, Any]:
    """A column as a JSON object."""
    codes = coding.codes(name, values)
    rows = codes.reshape(-1, coding.row) if coding.row else codes[None, :]
    steps = np.diff(rows, axis=1, prepend=0).ravel() % (coding.most + 1)
    if coding.bits == 16:
        parts = (steps >> 8).astype(np.uint8), (steps & 255).astype(np.uint8)
        data = np.concatenate(parts)
    else:
        data = steps.astype(np.uint8)
    told = {"low": coding.low, "step": coding.step, "bits": coding.bits, "log": coding.log, "row": coding.row}
    return {**told, "data": base64.b64encode(data.tobytes()).decode("ascii")}


def unpacked(column: dict[str, Any]) -> Array:
    """The values of a column, (n,)."""
    data = np.frombuffer(base64.b64decode(column["data"]), dtype=np.uint8).astype(np.int64)
    coding = Coding(column["low"], column["step"], column["bits"], column["log"], column["row"])
    if coding.bits == 16:
        half = len(data) // 2
        data = data[:half] * 256 + data[half:]
    rows = data.reshape(-1, coding.row) if coding.row else data[None, :]
    return coding.values(np.cumsum(rows, axis=1).ravel() % (coding.most + 1))


SMALL = Coding(1e-4, math.log(2e4) / 254.0, log=True)
"""Relative sizes from 1e-4 to 2 [1]."""

SCALE = Coding(1e-7, 4e-4, bits=16, log=True)
"""Numbers from 1e-7 on, to 2 in 10⁴."""

FACTOR = Coding(0.0, 2e-4, bits=16)
EXPONENT = Coding(-0.256, 2e-3)
SHARE = Coding(0.0, 1.0 / 255.0)
LEVEL = Coding(-30.0, 2e-3, bits=16, row=0)
SPEED = Coding(0.5, 1e-4, bits=16, log=True, row=0)
SIGNED = Coding(-127.0, 1.0)
WHOLE = Coding(0.0, 1.0)
INDEX = Coding(0.0, 1.0, bits=16)
RATIO = Coding(0.7, 2.4e-3)
TESTED = Coding(0.0, 1e-4, bits=16)
OPENING = Coding(0.0, 1.0 / 65535.0, bits=16)
