"""Draws with an identity: the same source of error gives the same draws, everywhere and in any order.

A draw depends on the seed, the identity of its source and its place in the sequence, and on nothing else:
not on what was drawn before, not on how many trials are asked for. So two fans that share a barometer share
its errors, and a corrected calibration keeps its draws.

The bits come from the counter-based Philox-4x64 generator (Salmon et al., 2011), whose raw stream NumPy keeps
stable between versions; it promises no such thing for its normal deviates, so these are made here, by
Algorithm AS 241 (Wichura, 1988).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from hashlib import blake2b

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.polynomial import polynomial
from stillroom.errors import OutOfRange

SEED = 20260101
"""The seed of a laboratory that has not chosen another one."""

_CHUNK = 16384  # values worked on at a time, so that the intermediate arrays stay in the cache


class Stream:
    """The draws of one identity, handed out piece by piece.

    Pieces of any size, one after the other, are the same numbers as one long piece.

    Parameters
    ----------
    identity : name of the source of error.
    row : which of the identity's independent sequences (0, 1, …).
    seed : seed of the laboratory.

    Raises
    ------
    OutOfRange : row is below zero.
    """

    def __init__(self, identity: str, row: int = 0, seed: int = SEED) -> None:
        self._identity = identity
        digest = blake2b(f"{seed}\x00{identity}".encode(), digest_size=16).digest()
        # rows lie 2¹²⁸ counts apart
        self._bits = np.random.Philox(
            key=int.from_bytes(digest, "little"), counter=_counted(identity, row) << 128
        )

    def probabilities(self, number: int) -> Array:
        """The next rectangular numbers, multiples of 2⁻⁵² plus 2⁻⁵³: never 0, never 1. OutOfRange below 0."""
        return self._pieces(number, _as_it_is)

    def normal(self, number: int) -> Array:
        """The next standard normal numbers. OutOfRange for a number below 0."""
        return self._pieces(number, _deviates)

    def rectangular(self, number: int) -> Array:
        """The next rectangular numbers with mean 0 and variance 1. OutOfRange for a number below 0."""
        numbers = self.probabilities(number)
        return np.multiply(2.0 * numbers - 1.0, np.sqrt(3.0))

    def _pieces(self, number: int, shape: Callable[[Array, Array], None]) -> Array:
        numbers = np.empty(_counted(self._identity, number))
        for start in range(0, number, _CHUNK):
            part = numbers[start : start + _CHUNK]
            raw = np.asarray(self._bits.random_raw(part.size), dtype=np.uint64)
            raw >>= np.uint64(12)
            np.copyto(part, raw.view(np.int64))  # below 2⁵², so the same number; turned to floats faster
            part += 0.5
            part *= 2.0**-52
            shape(part, part)
        return numbers


def _as_it_is(p: Array, out: Array) -> None:
    """Leave probabilities as they are."""


def _counted(identity: str, number: int) -> int:
    if number < 0:
        raise OutOfRange(f"draws of {identity!r}", found=f"{number} of them", expected="none or more")
    return number


def normal_draws(identity: str, trials: int, seed: int = SEED) -> Array:
    """Standard normal draws of one source of error.

    Parameters
    ----------
    identity : name of the source of error (instrument and property, nozzle, formula, day, sample …).
    trials : how many draws; a shorter sequence is the beginning of a longer one.
    seed : seed of the laboratory.

    Returns
    -------
    Array of shape (trials,): mean 0, variance 1; not to be written to, since it is drawn once and kept.

    Source: JCGM 101:2008, 6.4.7 (normal distribution), by inversion.
    """
    return _kept_draws(identity, trials, seed)


@lru_cache(maxsize=256)
def _kept_draws(identity: str, trials: int, seed: int) -> Array:
    """The same sources are drawn for again and again: for each curve, mounting and fan that they move."""
    draws = Stream(identity, 0, seed).normal(trials)
    draws.flags.writeable = False
    return draws


def uniform_draws(identity: str, trials: int, seed: int = SEED) -> Array:
    """Rectangular draws of one source of error, with mean 0 and variance 1 (half-width √3).

    Parameters and shape as for `normal_draws`.

    Source: JCGM 101:2008, 6.4.2 (rectangular distribution).
    """
    return Stream(identity, 0, seed).rectangular(trials)


def normal_block(identity: str, rows: int, trials: int, seed: int = SEED) -> Array:
    """Standard normal draws in independent rows.

    Row i depends on the identity, the seed and i only: not on `rows`. Row 0 equals `normal_draws`.

    Returns
    -------
    Array of shape (rows, trials).
    """
    block = np.empty((_counted(identity, rows), _counted(identity, trials)))
    for row in range(rows):
        block[row] = Stream(identity, row, seed).normal(trials)
    return block


# Coefficients as printed in Wichura, M. J. (1988): Algorithm AS 241, The percentage points of the normal
# distribution. Applied Statistics 37(3), 477-484, routine PPND16; from the highest power down.
_A = (
    2.5090809287301226727e3, 3.3430575583588128105e4, 6.7265770927008700853e4, 4.5921953931549871457e4,
    1.3731693765509461125e4, 1.9715909503065514427e3, 1.3314166789178437745e2, 3.3871328727963666080e0,
)  # fmt: skip
_B = (
    5.2264952788528545610e3, 2.8729085735721942674e4, 3.9307895800092710610e4, 2.1213794301586595867e4,
    5.3941960214247511077e3, 6.8718700749205790830e2, 4.2313330701600911252e1, 1.0,
)  # fmt: skip
_C = (
    7.74545014278341407640e-4, 2.27238449892691845833e-2, 2.41780725177450611770e-1,
    1.27045825245236838258e0, 3.64784832476320460504e0, 5.76949722146069140550e0,
    4.63033784615654529590e0, 1.42343711074968357734e0,
)  # fmt: skip
_D = (
    1.05075007164441684324e-9, 5.47593808499534494600e-4, 1.51986665636164571966e-2,
    1.48103976427480074590e-1, 6.89767334985100004550e-1, 1.67638483018380384940e0,
    2.05319162663775882187e0, 1.0,
)  # fmt: skip
_E = (
    2.01033439929228813265e-7, 2.71155556874348757815e-5, 1.24266094738807843860e-3,
    2.65321895265761230930e-2, 2.96560571828504891230e-1, 1.78482653991729133580e0,
    5.46378491116411436990e0, 6.65790464350110377720e0,
)  # fmt: skip
_F = (
    2.04426310338993978564e-15, 1.42151175831644588870e-7, 1.84631831751005468180e-5,
    7.86869131145613259100e-4, 1.48753612908506148525e-2, 1.36929880922735805310e-1,
    5.99832206555887937690e-1, 1.0,
)  # fmt: skip
_CONST1 = 0.180625  # the square of split1 = 0.425
_SPLIT2, _CONST2 = 5.0, 1.6


def inverse_normal(p: Array) -> Array:
    """The standard normal deviate that has the probability p below it.

    Parameters
    ----------
    p : probabilities [1], any shape, strictly between 0 and 1.

    Returns
    -------
    Array of the same shape; relative accuracy about 1e-16 by its source.

    Raises
    ------
    OutOfRange : a probability is not strictly between 0 and 1.

    Source: Wichura (1988), Algorithm AS 241, PPND16.
    """
    p = np.asarray(p, dtype=np.float64)
    flat = np.ascontiguousarray(p).reshape(-1)
    result = np.empty_like(flat)
    for start in range(0, flat.size, _CHUNK):
        part = flat[start : start + _CHUNK]
        if not (part.min() > 0.0 and part.max() < 1.0):
            at = start + int(np.flatnonzero(~((part > 0.0) & (part < 1.0)))[0])
            raise OutOfRange(
                "probability", place=f"value {at}", found=f"{flat[at]}", expected="strictly between 0 and 1"
            )
        _deviates(part, result[start : start + _CHUNK])
    return result.reshape(p.shape)


def _deviates(p: Array, out: Array) -> None:
    """Fill `out` with the deviates of `p`; the two may be the same array."""
    q = p - 0.5
    r = _CONST1 - q * q
    tail = np.flatnonzero(r < 0.0)  # |q| > split1 = √const1
    below = p[tail]
    _ratio(_A, _B, r, out)
    out *= q
    if tail.size:
        side = q[tail]
        depth = np.sqrt(-np.log(np.where(side < 0.0, below, 1.0 - below)))
        deviate = np.empty_like(depth)
        _ratio(_C, _D, depth - _CONST2, deviate)
        far = np.flatnonzero(depth > _SPLIT2)
        if far.size:
            farthest = np.empty(far.size)
            _ratio(_E, _F, depth[far] - _SPLIT2, farthest)
            deviate[far] = farthest
        out[tail] = np.copysign(deviate, side)


def _ratio(above: tuple[float, ...], below: tuple[float, ...], x: Array, out: Array) -> None:
    """The quotient of two polynomials, into `out`."""
    polynomial(x, *above, out=out)
    out /= polynomial(x, *below)
