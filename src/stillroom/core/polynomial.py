"""Polynomials by Horner's rule, without a new array for every step."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array


def polynomial(x: Array, *coefficients: float, out: Array | None = None) -> Array:
    """The value of a polynomial.

    Parameters
    ----------
    x : where it is wanted [-], any shape.
    coefficients : from the highest power down, two or more.
    out : where to put the values, another array than `x`; None: a new one.

    Returns
    -------
    Array of the shape of `x`.
    """
    value = np.multiply(x, coefficients[0], out=out)
    for each in coefficients[1:-1]:
        value += each
        value *= x
    value += coefficients[-1]
    return value
