"""Variable projection against NIST's certified sets, scipy's own search, and statsmodels' GLS."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import least_squares

from stillroom.core.arrays import Array
from stillroom.core.heat.separable import Readings, narrowed, profile, whitened
from stillroom.errors import NotPossible

SETS = json.loads(
    (Path(__file__).parents[1] / "reference" / "nist_strd_nonlinear.json").read_text(encoding="utf-8")
)["sets"]

# The one column of each set, with its nonlinear parameter as a time constant τ = 1/b2 where that is natural.
COLUMNS = {
    "Misra1a": lambda x, tau: 1.0 - np.exp(-x / tau),
    "Misra1b": lambda x, tau: 1.0 - (1.0 + x / tau / 2.0) ** -2,
    "Misra1c": lambda x, tau: 1.0 - (1.0 + 2.0 * x / tau) ** -0.5,
    "Misra1d": lambda x, tau: x / tau / (1.0 + x / tau),
    "BoxBOD": lambda x, tau: 1.0 - np.exp(-x / tau),
}


def data(name: str) -> tuple[Array, Array]:
    found = SETS[SETS[name].get("like", name)]
    return np.array(found["x"]), np.array(found["y"])


def fitted(name: str) -> tuple[float, float, float]:
    x, y = data(name)
    readings = Readings(x, y, np.arange(x.size))

    def basis(times: Array, taus: Array) -> Array:
        return COLUMNS[name](times[None, :], taus[:, None])[..., None]

    found = narrowed(basis, readings, np.geomspace(0.1, 1e5, 60), np.zeros(1), 5)
    best = found.best
    # The bottom of a parabola through the last raster: the least square alone is told to half the digits only.
    low, middle, high = found.squares[best - 1 : best + 2]
    logs = np.log(found.taus[best - 1 : best + 2])
    bottom = logs[1] + 0.5 * (logs[1] - logs[0]) * (low - high) / (low - 2.0 * middle + high)
    last = profile(basis, readings, np.exp([bottom]), np.zeros(1))
    return float(last.linear[0, 0]), float(np.exp(-bottom)), float(last.squares[0])


@pytest.mark.parametrize("name", sorted(SETS))
def test_certified_values(name: str) -> None:
    """Parameters to seven digits and the residual sum of squares to nine (NIST StRD, certified)."""
    first, second, squares = fitted(name)
    assert first == pytest.approx(SETS[name]["b"][0], rel=1e-7)
    assert second == pytest.approx(SETS[name]["b"][1], rel=1e-7)
    assert squares == pytest.approx(SETS[name]["squares"], rel=1e-9)


def test_another_search_from_boxbods_first_start() -> None:
    """scipy's trust-region search (trf) from start 1 (b = 1, 1) ends where ours does, which needs no start."""
    x, y = data("BoxBOD")
    with np.errstate(over="ignore"):  # on its way it tries b that overflow
        theirs = least_squares(
            lambda b: b[0] * (1.0 - np.exp(-b[1] * x)) - y, [1.0, 1.0], method="trf", xtol=1e-14, ftol=1e-14
        )
    assert fitted("BoxBOD")[:2] == pytest.approx(tuple(theirs.x), rel=1e-5)


@pytest.mark.parametrize("r", [0.3, 0.9])
def test_whitened_rows_are_generalised_least_squares(r: float) -> None:
    """A line with AR(1) errors: value and covariance as statsmodels' GLS with the whole matrix rᵍ."""
    rng = np.random.default_rng(4)
    spans = np.flatnonzero(rng.random(60) > 0.2)  # with gaps
    columns = np.column_stack([np.ones(spans.size), spans, np.exp(-spans / 20.0)])
    values = columns @ [3.0, 0.02, -5.0] + rng.standard_normal(spans.size)
    theirs = sm.GLS(values, columns, sigma=r ** np.abs(np.subtract.outer(spans, spans))).fit()
    ours = profile(
        lambda times, taus: columns[None], Readings(spans * 1.0, values, spans, r), np.ones(1), np.zeros(3)
    )
    assert ours.linear[0] == pytest.approx(theirs.params, rel=1e-9)
    square = ours.squares[0] / (spans.size - 3)
    assert square * ours.inverse[0] == pytest.approx(theirs.cov_params(), rel=1e-8)


def test_variance_of_a_gls_slope() -> None:
    """Large n: variance of the slope of a line with AR(1) errors of variance 1 is 12 (1 + r)/(1 − r)/n³.

    Source: closed form; the spectral density at frequency 0 over that of white noise is (1 + r)/(1 − r).
    """
    spans = np.arange(4000)
    columns = np.column_stack([np.ones(spans.size), spans])
    rows = whitened(columns[None], spans, 0.8)[0]
    # whitened rows have the variance of one reading: 1
    variance = np.linalg.inv(rows.T @ rows)[1, 1]
    assert variance == pytest.approx(12.0 * 9.0 / 4000.0**3, rel=0.01)


def test_columns_that_are_alike_are_refused() -> None:
    spans = np.arange(20)
    with pytest.raises(NotPossible, match="told apart"):
        profile(
            lambda times, taus: np.ones((1, 20, 2)),
            Readings(spans * 1.0, spans * 1.0, spans),
            np.ones(1),
            np.zeros(2),
        )
