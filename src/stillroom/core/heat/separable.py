"""Least squares where all but one parameter are linear: variable projection over the one that isn't.

y = Σ βₖ gₖ(t; τ) + e, with e of first order (AR(1)) or independent. For each τ the βₖ follow by linear least
squares; so what is searched is a line and not a space, and no start values are asked for.

Source: G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import NotPossible

Basis = Callable[[Array, Array], Array]
"""From times (n,) and values of the nonlinear parameter (T,) to columns, shape (T, n, p)."""

LEAST_ROOT = 1e-6
"""What a column has of its own, over its length: with less (a millionth) it can't be told from the others."""


@dataclass(frozen=True)
class Readings:
    """What is fitted.

    Parameters
    ----------
    times, values : shape (n,).
    spans : places on an even raster, rising; what is missing between them is a gap, shape (n,).
    r : correlation between neighbours on the raster.
    """

    times: Array
    values: Array
    spans: NDArray[np.intp]
    r: float = 0.0


@dataclass(frozen=True)
class Profile:
    """The linear part for several values of the nonlinear parameter.

    Parameters
    ----------
    taus : values of the nonlinear parameter, shape (T,).
    linear : βₖ, shape (T, p). inverse : (X′X)⁻¹, shape (T, p, p).
    squares : sum of squares of what is left, made independent, with the prior's share, shape (T,).
    log_determinant : ln det X′X, shape (T,).
    plain : the columns before they were made independent, shape (T, n, p).
    values : what was fitted, shape (n,).
    """

    taus: Array
    linear: Array
    inverse: Array
    squares: Array
    log_determinant: Array
    plain: Array
    values: Array

    @property
    def best(self) -> int:
        """Which of the values fits best."""
        return int(np.argmin(self.squares))

    def left(self, which: int) -> Array:
        """What the curve of one of the values leaves of each reading, shape (n,)."""
        out: Array = self.values - self.plain[which] @ self.linear[which]
        return out


def whitened(columns: Array, spans: NDArray[np.intp], r: float) -> Array:
    """Rows of an AR(1) series made independent, each with the variance of a single reading.

    Parameters
    ----------
    columns : with the readings along the last axis but one, shape (…, n, p).
    spans : places of the readings on an even raster, rising, shape (n,).
    r : correlation between neighbours on the raster.

    Returns
    -------
    (xᵢ − rᵍ xᵢ₋₁)/√(1 − r²ᵍ), with g the step from the last one; the first row as it is.

    Source: S. J. Prais, C. B. Winsten, Cowles Commission paper 383 (1954) (from memory), with gaps.
    """
    if r == 0.0:
        return columns
    out = columns.copy()
    later = out[..., 1:, :]
    if spans[-1] - spans[0] == spans.size - 1:  # no gaps
        later -= r * columns[..., :-1, :]
        later /= math.sqrt(1.0 - r * r)
        return out
    passed = (r ** (spans[1:] - spans[:-1]))[:, None]
    later -= passed * columns[..., :-1, :]
    later /= np.sqrt(1.0 - passed**2)
    return out


@dataclass(frozen=True)
class LinearFit:
    """Ordinary least squares: parameters (p,), (X′X)⁻¹ (p, p), and what is left (n,)."""

    linear: Array
    inverse: Array
    left: Array


def linear_fit(columns: Array, values: Array) -> LinearFit:
    """Ordinary least squares of a few well-conditioned columns, shape (n, p).

    Raises
    ------
    NotPossible : columns that can't be told apart.
    """
    turned = columns.T
    try:
        inverse = np.linalg.inv(turned @ columns).astype(np.float64, copy=False)
    except np.linalg.LinAlgError as error:
        raise _alike() from error
    linear = inverse @ (turned @ values)
    return LinearFit(linear, inverse, values - columns @ linear)


@dataclass(frozen=True)
class Normals:
    """The normal equations for several values of the nonlinear parameter, to be solved with one prior or another.

    Parameters
    ----------
    taus, plain, values : as in `Profile`.
    columns, reading : made independent, shapes (T, n, p) and (n,).
    square, product : X′X, shape (T, p, p), and X′y, shape (T, p).
    """

    taus: Array
    plain: Array
    values: Array
    columns: Array
    reading: Array
    square: Array
    product: Array

    def solved(self, ridge: Array) -> Profile:
        """The best linear parameters; `ridge` and errors as in `profile`."""
        normal = self.square + ridge[..., None] * np.eye(self.square.shape[-1])
        scale = np.sqrt(np.diagonal(normal, axis1=-2, axis2=-1))
        with np.errstate(invalid="ignore", divide="ignore"):
            scaled = normal / scale[:, :, None] / scale[:, None, :]
        try:
            roots = np.diagonal(np.linalg.cholesky(scaled), axis1=-2, axis2=-1)
        except np.linalg.LinAlgError as error:
            raise _alike() from error
        if not roots.min() > LEAST_ROOT:
            raise _alike()
        inverse = np.linalg.inv(scaled) / scale[:, :, None] / scale[:, None, :]
        linear = (inverse @ self.product[..., None])[..., 0]
        rest = self.reading - (self.columns @ linear[..., None])[..., 0]
        return Profile(
            taus=self.taus,
            linear=linear,
            inverse=inverse,
            squares=np.square(rest).sum(axis=1) + (np.square(linear) * ridge).sum(axis=1),
            log_determinant=2.0 * np.log(roots * scale).sum(axis=1),
            plain=self.plain,
            values=self.values,
        )


def normals(basis: Basis, readings: Readings, taus: Array) -> Normals:
    """The normal equations of some readings for each of several values of the nonlinear parameter, shape (T,)."""
    plain = basis(readings.times, taus)
    columns = whitened(plain, readings.spans, readings.r)
    reading = whitened(readings.values[:, None], readings.spans, readings.r)[:, 0]
    turned = columns.swapaxes(-1, -2)
    return Normals(taus, plain, readings.values, columns, reading, turned @ columns, turned @ reading)


def profile(basis: Basis, readings: Readings, taus: Array, ridge: Array) -> Profile:
    """The best linear parameters for each of several values of the nonlinear one.

    Parameters
    ----------
    basis : the model's columns.
    readings : what is fitted.
    taus : shape (T,).
    ridge : weight of a prior around zero on each linear parameter, (σ/σₖ)², 0 for none, shape (p,) or (T, p).

    Raises
    ------
    NotPossible : columns that can't be told apart.
    """
    return normals(basis, readings, taus).solved(ridge)


def narrowed(basis: Basis, readings: Readings, taus: Array, ridge: Array, rounds: int) -> Profile:
    """The least sum of squares, sought in ever finer rasters of the nonlinear parameter: the last profile.

    Parameters
    ----------
    basis, readings : as in `profile`.
    taus : the first raster, rising and positive, shape (T,).
    ridge : as in `profile`.
    rounds : further rasters, each as wide as two steps of the one before.
    """
    found = profile(basis, readings, taus, ridge)
    for _ in range(rounds):
        ends = np.log(found.taus[[max(found.best - 1, 0), min(found.best + 1, found.taus.size - 1)]])
        found = profile(basis, readings, np.exp(np.linspace(ends[0], ends[1], taus.size)), ridge)
    return found


def _alike() -> NotPossible:
    return NotPossible("fit", found="columns that can't be told apart", expected="a longer series")
