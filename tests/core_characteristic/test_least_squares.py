"""The least-squares solver of the characteristic and of the resistance against NIST's certified values."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from stillroom.core.characteristic.smooth import System, inverse, normal_equations
from stillroom.core.resistance import Law, fit_resistance

REFERENCE = Path(__file__).parents[1] / "reference"


def solve(design, response, shared=None, variance=None):
    """The solver without roughness or prior: plain (generalised) least squares."""
    n, p = design.shape
    solved = normal_equations(
        System(
            design=design,
            response=response,
            shared=np.zeros((0, n)) if shared is None else shared,
            own_variance=np.ones(n) if variance is None else variance,
            roughness=np.zeros((1, p)),
            prior_precision=np.zeros(p),
        )
    )
    covariance = inverse(solved, 0.0)
    return covariance @ solved.right, covariance


def test_norris():
    """NIST StRD Norris, as shipped in scipy 1.17.1 (scipy/stats/tests/data/nist_linregress/Norris.dat)."""
    lines = (REFERENCE / "nist_linear" / "Norris.dat").read_text().splitlines()
    y, x = np.loadtxt(lines[60:96]).T
    theta, covariance = solve(np.column_stack([np.ones_like(x), x]), y)
    residual = y - theta[0] - theta[1] * x
    scatter = np.sqrt(residual @ residual / (len(y) - 2))
    assert theta == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-10)
    sd = scatter * np.sqrt(np.diag(covariance))
    assert sd == pytest.approx([0.232818234301152, 0.429796848199937e-3], rel=1e-9)


def test_longley_with_columns_centred_and_scaled():
    """Six nearly collinear columns. The solver forms normal equations, so columns come centred and scaled."""
    reference = json.loads((REFERENCE / "nist_linear" / "longley.json").read_text())
    data = np.array(reference["data"])
    y, x = data[:, 0], data[:, 1:]
    centre, scale = x.mean(axis=0), x.std(axis=0)
    theta, _ = solve(np.column_stack([np.ones(len(y)), (x - centre) / scale]), y)
    slopes = theta[1:] / scale
    assert slopes == pytest.approx(reference["certified"][1:], rel=1e-9)
    assert theta[0] - slopes @ centre == pytest.approx(reference["certified"][0], rel=1e-9)


def test_generalised_weights_by_a_second_route():
    """A shared error in the weights equals ordinary least squares after whitening by a Cholesky factor."""
    rng = np.random.default_rng(3)
    x = np.linspace(0, 1, 12)
    design = np.column_stack([np.ones(12), x, x**2])
    response = rng.standard_normal(12)
    shared = rng.standard_normal((2, 12))
    variance = rng.uniform(0.5, 2.0, 12)
    theta, covariance = solve(design, response, shared, variance)
    lower = np.linalg.cholesky(shared.T @ shared + np.diag(variance))
    white, target = np.linalg.solve(lower, design), np.linalg.solve(lower, response)
    expected = np.linalg.lstsq(white, target, rcond=None)[0]
    assert theta == pytest.approx(expected, rel=1e-10)
    assert covariance == pytest.approx(np.linalg.inv(white.T @ white), rel=1e-9)


def test_danwood_power_law():
    """NIST StRD DanWood: the power law of a resistance, here with equal errors of pressure only."""
    reference = json.loads((REFERENCE / "danwood.json").read_text())
    x, y = np.array(reference["x"]), np.array(reference["y"])
    spread = np.sqrt(reference["residual_sum_of_squares"] / (len(x) - 2))
    fitted = fit_resistance(
        x,
        y,
        shared_flow=np.zeros((0, 6)),
        shared_pressure=np.zeros((0, 6)),
        own_flow=np.zeros(6),
        own_pressure=np.full(6, spread),
        sources=(),
        identity="danwood",
        law=Law.POWER,
    )
    assert fitted.central == pytest.approx(reference["certified"], rel=1e-8)
    assert fitted.residuals @ fitted.residuals == pytest.approx(
        reference["residual_sum_of_squares"], rel=1e-9
    )
    assert fitted.scatter == pytest.approx(1.0, rel=1e-8)
    assert np.sqrt(np.diag(fitted.covariance)) == pytest.approx(reference["certified_sd"], rel=1e-6)
