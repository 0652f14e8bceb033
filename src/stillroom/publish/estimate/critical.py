"""How many standard deviations tell fans apart when many are judged at once, as tables that a page looks up.

Normal deviates, one part of whose variance is a fan's own: the differences of fan i from the others are
correlated by ρ, the share of its own variance in theirs. For equal correlations the greatest of n such differences is
below c with probability ∫ Φ((c + √ρ z)/√(1 − ρ))ⁿ φ(z) dz. For all pairs of n fans at once the greatest standardised
difference is the studentised range over √2.

Sources: Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096, one-sided comparison with a control; Tukey's range as in
Hsu, Multiple Comparisons (1996), ch. 5.
"""

from __future__ import annotations

import numpy as np
import scipy

from stillroom.core.arrays import Array
from stillroom.core.multiple import PROBABILITY

COUNTS = (2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200, 500, 1000)
"""Numbers of fans of the tables."""

CORRELATIONS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.98)
"""Correlations of the table of possible bests."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(96)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def best_critical(others: int, correlation: float, probability: float = PROBABILITY) -> float:
    """Above how many standard deviations the greatest difference from `others` fans excludes one as the best."""
    spread = np.sqrt(1.0 - correlation)
    shift = np.sqrt(correlation) * _NODES

    def below(c: float) -> float:
        return float(_WEIGHTS @ scipy.special.ndtr((c + shift) / spread) ** others) - probability

    return float(scipy.optimize.brentq(below, -1.0, 12.0))


def rank_critical(count: int, probability: float = PROBABILITY) -> float:
    """Above how many standard deviations a pair of `count` fans differs when all pairs are judged at once."""

    def below(c: float) -> float:
        width = c * np.sqrt(2.0)
        inside = scipy.special.ndtr(_GRID) - scipy.special.ndtr(_GRID - width)
        return float(count * np.sum(_DENSITY * inside ** (count - 1)) * _STEP) - probability

    return float(scipy.optimize.brentq(below, 0.1, 15.0))


_STEP = 0.01
_GRID = np.arange(-9.0, 16.0, _STEP)
_DENSITY = np.exp(-0.5 * _GRID**2) / np.sqrt(2.0 * np.pi)


def best_table() -> Array:
    """`best_critical` of COUNTS fans by CORRELATIONS, (counts, correlations)."""
    return np.array([[best_critical(count - 1, each) for each in CORRELATIONS] for count in COUNTS])


def rank_table() -> Array:
    """`rank_critical` of COUNTS fans, (counts,)."""
    return np.array([rank_critical(count) for count in COUNTS])
