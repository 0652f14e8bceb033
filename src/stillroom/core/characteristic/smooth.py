"""The penalised generalised least squares behind a characteristic: one linear map for each smoothness.

y = X θ + Zᵀ b + e with shared errors b ~ N(0, 1), own errors e ~ N(0, diag v), and a prior on θ: roughness
λ |R θ|² for the curve, fixed standard deviations for the other parameters. With W = (ZᵀZ + diag v)⁻¹ the
posterior mean is A⁻¹ Xᵀ W y, A = XᵀWX + λRᵀR + H, and λ is weighed by its restricted likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class System:
    """One linear model, ready to be solved for any smoothness.

    Parameters
    ----------
    design : X (n, P). response : y (n,). shared : Z (k, n). own_variance : v (n,).
    roughness : R (q, P). prior_precision : diagonal of H (P,).
    """

    design: Array
    response: Array
    shared: Array
    own_variance: Array
    roughness: Array
    prior_precision: Array


@dataclass(frozen=True)
class Solved:
    """The normal equations of a `System`: information XᵀWX + H, weighted = XᵀW, and what REML needs."""

    system: System
    weight: Array
    weighted: Array
    information: Array
    gram: Array
    right: Array
    square: float


def normal_equations(system: System) -> Solved:
    """Form the normal equations, with the covariance of own errors and of shared ones that can be told."""
    shared = system.shared[told_apart(system)]
    covariance = shared.T @ shared
    covariance[np.diag_indices_from(covariance)] += system.own_variance
    weight = np.linalg.inv(covariance)
    weight = (weight + weight.T) / 2
    weighted = system.design.T @ weight
    information = weighted @ system.design
    information[np.diag_indices_from(information)] += system.prior_precision
    return Solved(
        system=system,
        weight=weight,
        weighted=weighted,
        information=information,
        gram=system.roughness.T @ system.roughness,
        right=weighted @ system.response,
        square=float(system.response @ weight @ system.response),
    )


def told_apart(system: System) -> NDArray[np.bool_]:
    """Which shared sources the readings can tell from the curve, (k,).

    What a source does beside all curves, over the own errors, is what the readings know of it: Σ z⊥²/v. Where
    that is less than the 1 of its prior, the source stays out of the weights and is left to the trials: it would
    be traded against the roughness of the curve, and the curve would shrink (Peelle's puzzle).
    """
    root = np.sqrt(system.own_variance)
    left, values, _ = np.linalg.svd(system.design / root[:, None], full_matrices=False)
    span = left[:, values > 1e-6 * values[0]]
    weighed = system.shared / root
    beside = weighed - (weighed @ span) @ span.T
    return np.asarray((beside**2).sum(axis=1) > 1.0)


def restricted_likelihood(solved: Solved, smoothness: Array) -> Array:
    """Logarithm of the restricted likelihood of each λ, up to a constant, shape as `smoothness`.

    −½ [ln|A| − q ln λ + yᵀWy − (XᵀWy)ᵀ A⁻¹ (XᵀWy)]; Wood, Generalized Additive Models (2nd ed., 2017), 6.2.6.
    """
    a = solved.information + smoothness[:, None, None] * solved.gram
    lower = np.linalg.cholesky(a)
    half = np.linalg.solve(lower, np.broadcast_to(solved.right[:, None], (*lower.shape[:2], 1)))[..., 0]
    log_determinant = 2.0 * np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    rank = len(solved.system.roughness)
    return np.asarray(
        -0.5 * (log_determinant - rank * np.log(smoothness) + solved.square - (half**2).sum(axis=1))
    )


def best_smoothness(solved: Solved) -> float:
    """The λ of the greatest restricted likelihood, on a grid refined once."""
    scale = np.trace(solved.information) / np.trace(solved.gram)
    exponents = np.linspace(-9.0, 3.0, 13)
    for width in (1.0, 0.25):
        values = restricted_likelihood(solved, scale * 10.0**exponents)
        top = exponents[int(np.argmax(values))]
        exponents = top + width * np.linspace(-1.0, 1.0, 9)
    return float(scale * 10.0**top)


def inverse(solved: Solved, smoothness: float) -> Array:
    """A⁻¹ for one smoothness, shape (P, P)."""
    inverted = np.linalg.inv(solved.information + smoothness * solved.gram)
    return np.asarray((inverted + inverted.T) / 2)
