"""Draws with an identity: the same source of error gives the same draws, everywhere and in any order.

A draw depends on the seed, the identity of its source and its place in the sequence, and on nothing else:
not on what was drawn before, not on how many trials are asked for. So two fans that share a barometer share
its errors, and a corrected calibration keeps its draws.

The bits come from the counter-based Philox-4x64 generator (Salmon et al., 2011), whose raw stream NumPy keeps
stable between versions; it promises no such thing for its normal deviates, so these are made here, by
Algorithm AS 241 (Wichura, 1988).
"""

from __future__ import annotations

from hashlib import blake2b

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import OutOfRange

SEED = 20260101
"""The seed of a laboratory that has not chosen another one."""

_CHUNK = 16384  # values worked on at a time, so that the intermediate arrays stay in the cache


def uniform_stream(identity: str, trials: int, row: int = 0, seed: int = SEED) -> Array:
    """Rectangular numbers strictly between 0 and 1 that belong to an identity.

    Parameters
    ----------
    identity : name of the source of error.
    trials : how many numbers; a shorter sequence is the beginning of a longer one.
    row : which of the identity's independent sequences (0, 1, …).
    seed : seed of the laboratory.

    Returns
    -------
    Array of shape (trials,), multiples of 2⁻⁵² plus 2⁻⁵³, so never 0 and never 1.

    Raises
    ------
    OutOfRange : trials or row is negative.
    """
    if trials < 0 or row < 0:
        raise OutOfRange(
            f"draws of {identity!r}", found=f"{trials} trials, row {row}", expected="neither below 0"
        )
    digest = blake2b(f"{seed}\x00{identity}".encode(), digest_size=16).digest()
    generator = np.random.Philox(key=int.from_bytes(digest, "little"), counter=row << 128)
    raw = np.asarray(generator.random_raw(trials), dtype=np.uint64)
    raw >>= np.uint64(12)
    numbers = raw.astype(np.float64)
    numbers += 0.5
    numbers *= 2.0**-52
    return numbers


def normal_draws(identity: str, trials: int, seed: int = SEED) -> Array:
    """Standard normal draws of one source of error.

    Parameters
    ----------
    identity : name of the source of error (instrument and property, nozzle, formula, day, sample …).
    trials : how many draws; a shorter sequence is the beginning of a longer one.
    seed : seed of the laboratory.

    Returns
    -------
    Array of shape (trials,): mean 0, variance 1.

    Source: JCGM 101:2008, 6.4.7 (normal distribution), by inversion.
    """
    return inverse_normal(uniform_stream(identity, trials, 0, seed))


def uniform_draws(identity: str, trials: int, seed: int = SEED) -> Array:
    """Rectangular draws of one source of error, with mean 0 and variance 1 (half-width √3).

    Parameters and shape as for `normal_draws`.

    Source: JCGM 101:2008, 6.4.2 (rectangular distribution).
    """
    numbers = uniform_stream(identity, trials, 0, seed)
    return np.multiply(2.0 * numbers - 1.0, np.sqrt(3.0))


def normal_block(identity: str, rows: int, trials: int, seed: int = SEED) -> Array:
    """Standard normal draws in independent rows.

    Row i depends on the identity, the seed and i only: not on `rows`. Row 0 equals `normal_draws`.

    Returns
    -------
    Array of shape (rows, trials).
    """
    block = np.empty((rows, trials))
    for row in range(rows):
        block[row] = uniform_stream(identity, trials, row, seed)
    return inverse_normal(block)


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
_SPLIT1, _CONST1 = 0.425, 0.180625
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
    work = np.empty(min(_CHUNK, flat.size))
    for start in range(0, flat.size, _CHUNK):
        part = flat[start : start + _CHUNK]
        if not (part.min() > 0.0 and part.max() < 1.0):
            at = start + int(np.flatnonzero(~((part > 0.0) & (part < 1.0)))[0])
            raise OutOfRange(
                "probability", place=f"value {at}", found=f"{flat[at]}", expected="strictly between 0 and 1"
            )
        _deviates(part, result[start : start + _CHUNK], work[: part.size])
    return result.reshape(p.shape)


def _deviates(p: Array, out: Array, r: Array) -> None:
    """Fill `out` with the deviates of `p`; `r` is room to work in."""
    q = p - 0.5
    np.multiply(q, q, out=r)
    np.subtract(_CONST1, r, out=r)
    _ratio(_A, _B, r, out)
    out *= q
    tail = np.flatnonzero(np.abs(q) > _SPLIT1)
    if tail.size:
        side = q[tail]
        below = p[tail]
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
    """The quotient of two polynomials by Horner's rule, into `out`."""
    _horner(above, x, out)
    divisor = np.empty_like(x)
    _horner(below, x, divisor)
    out /= divisor


def _horner(coefficients: tuple[float, ...], x: Array, out: Array) -> None:
    np.multiply(x, coefficients[0], out=out)
    for each in coefficients[1:-1]:
        out += each
        out *= x
    out += coefficients[-1]
