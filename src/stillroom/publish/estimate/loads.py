"""The loads of a table of airflow: how far a resistance lets a fan's air through, and how much of it is linear."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array

OPENINGS = 32
"""Knots of u, from 0, where nothing flows, to 1, free air."""

SHARES = 4
"""Knots of f, from a quadratic resistance to a linear one."""

ROUGH = 8
"""Knots of u at which the loadings of shared sources are kept."""

Loads = tuple[Array, Array]
"""Coefficients of p = A t + B t², (cells,) each."""


def openings() -> Array:
    """The knots of u [1]."""
    return np.linspace(0.0, 1.0, OPENINGS)


def shares() -> Array:
    """The knots of f [1]."""
    return np.linspace(0.0, 1.0, SHARES)


def rough() -> NDArray[np.intp]:
    """Which of the openings but the first have loadings, (ROUGH,)."""
    return np.linspace(0, OPENINGS - 2, ROUGH).round().astype(np.intp)


def loads_at(opening: Array, share: Array) -> Loads:
    """The loads p = A t + B t² that meet p = 1 − t² at t = u, of which A is the share f of A + B."""
    total = (1.0 - opening**2) / (share * opening + (1.0 - share) * opening**2)
    return np.asarray(share * total), np.asarray((1.0 - share) * total)


def each_cell() -> tuple[Array, Array]:
    """u and f of all cells but those where nothing flows, ((OPENINGS − 1) · SHARES,) each."""
    u, f = np.meshgrid(openings()[1:], shares(), indexing="ij")
    return u.ravel(), f.ravel()


def middle() -> tuple[Array, Array]:
    """u and f = 1/2 of each opening but the first."""
    u = openings()[1:]
    return u, np.full_like(u, 0.5)
