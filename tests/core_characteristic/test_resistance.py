"""Resistance of obstacles: recovery, covariance, choice of form, scaling, combination."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.resistance import (
    Law,
    fit_resistance,
    in_parallel,
    pressure_drop,
    pressure_drops,
    scaled,
)
from stillroom.errors import Contradiction, NotPossible, UnknownThing

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "operating_points.json").read_text())
FLOW = np.linspace(0.0, 0.04, 12)
RADIATOR = (0.085 * 3600, 1.15e-3 * 3600**2)


def measured(pressure, *, rng=None, identity="radiator", law=None, gain=0.003, trials=2000, seed=None):
    """An obstacle on a bench with a shared pressure gain; with noise where a generator is given."""
    own_pressure = np.hypot(0.05, 0.005 * pressure)
    own_flow = 0.004 * FLOW
    read = pressure + (0 if rng is None else own_pressure * rng.standard_normal(len(FLOW)))
    slope = np.gradient(pressure, FLOW)
    if rng is not None:
        read = read - slope * own_flow * rng.standard_normal(len(FLOW))
    more = {} if seed is None else {"seed": seed}
    return fit_resistance(
        FLOW,
        read,
        shared_flow=np.zeros((1, len(FLOW))),
        shared_pressure=gain * pressure[None, :],
        own_flow=own_flow,
        own_pressure=own_pressure,
        sources=("bench/pressure gain",),
        identity=identity,
        law=law,
        trials=trials,
        **more,
    )


def truth(a, b):
    return a * FLOW + b * FLOW**2


def test_exact_readings_give_the_exact_parameters():
    fitted = measured(truth(*RADIATOR))
    assert fitted.law is Law.LINEAR_QUADRATIC
    assert fitted.central == pytest.approx(RADIATOR, rel=1e-9)
    assert fitted.effects[0] == pytest.approx(0.003 * np.array(RADIATOR), rel=1e-6)
    assert fitted.reach == (FLOW[1], FLOW[-1])


def test_a_and_b_are_strongly_anticorrelated():
    fitted = measured(truth(*RADIATOR))
    spread = np.sqrt(np.diag(fitted.covariance))
    assert -0.97 < fitted.covariance[0, 1] / spread.prod() < -0.7
    trials = fitted.rows()[2:]
    assert np.cov(trials.T) == pytest.approx(fitted.covariance, rel=0.12)


def test_intervals_cover_in_95_of_100():
    rng = np.random.default_rng(4)
    flow = np.array([0.01, 0.02, 0.03])
    expected = RADIATOR[0] * flow + RADIATOR[1] * flow**2
    hits = []
    for i in range(300):
        gain = 1 + 0.003 * rng.standard_normal()
        fitted = measured(truth(*RADIATOR) / gain, rng=rng, identity=f"r{i}", trials=400)
        drops = pressure_drops(fitted, flow)[2:]
        low, high = np.quantile(drops, (0.025, 0.975), axis=0)
        hits.append((low <= expected) & (expected <= high))
    assert 0.93 <= np.mean(hits) <= 0.995


def test_the_power_law_is_chosen_where_it_holds():
    fitted = measured(2000.0 * FLOW**1.4)
    assert fitted.law is Law.POWER
    assert fitted.central == pytest.approx([2000.0, 1.4], rel=1e-8)


def test_the_power_law_of_a_slight_resistance_is_as_often_too_high_as_too_low():
    """The drop in which c and n are uncertain together: closed form of the delta method in ln c and n."""
    fitted = measured(truth(0.0, 1.2e-4 * 3600**2), rng=np.random.default_rng(8), law=Law.POWER)
    flow = np.array([0.3, 0.6, 1.0]) * FLOW[-1]
    central, _, *drops = np.log(pressure_drops(fitted, flow))
    gradient = np.stack([np.full(3, 1 / fitted.central[0]), np.log(flow)])
    sd = np.sqrt(np.einsum("pf,pq,qf->f", gradient, fitted.covariance, gradient))
    off = np.array(drops) - central
    assert np.all(np.abs(np.median(off, axis=0)) < 0.15 * sd)
    assert off.std(axis=0) == pytest.approx(sd, rel=0.08)


def test_no_negative_parameter_neither_central_nor_in_a_trial():
    open_grille = measured(
        truth(0.0, 1.2e-4 * 3600**2), rng=np.random.default_rng(8), law=Law.LINEAR_QUADRATIC
    )
    assert np.all(open_grille.rows() >= 0.0)
    falling = measured(1500.0 * FLOW**0.8, law=Law.LINEAR_QUADRATIC)
    assert falling.central[1] == 0.0
    assert falling.central[0] > 0.0


def test_scatter_beyond_the_known_errors_widens_the_parameters():
    rng = np.random.default_rng(2)
    quiet = measured(truth(*RADIATOR))
    noisy = measured(truth(*RADIATOR) * (1 + 0.04 * rng.standard_normal(len(FLOW))), law=Law.LINEAR_QUADRATIC)
    assert noisy.scatter > 3.0
    assert noisy.noise.std(axis=0)[1] > 2.5 * quiet.noise.std(axis=0)[1]


def test_density_and_viscosity_act_on_their_own_term():
    parameters = np.array([[300.0, 15000.0]])
    assert scaled(Law.LINEAR_QUADRATIC, parameters, 1.1, 1.3)[0] == pytest.approx([390.0, 16500.0])
    power = np.array([[2000.0, 1.0], [2000.0, 2.0], [2000.0, 1.5]])
    assert scaled(Law.POWER, power, 1.1, 1.3)[:, 0] == pytest.approx(
        [2000 * 1.3, 2000 * 1.1, 2000 * (1.1 * 1.3) ** 0.5]
    )
    fitted = measured(truth(*RADIATOR))
    denser = pressure_drops(fitted, FLOW, density_ratio=1.1, part=Part.CENTRAL)[0]
    assert denser == pytest.approx(RADIATOR[0] * FLOW + 1.1 * RADIATOR[1] * FLOW**2)


def test_in_parallel_flows_add():
    two = REFERENCE["two_resistances"]
    flow = np.linspace(0.0, 0.1, 2000)
    drops = tuple(b * flow[None, :] ** 2 for b in two["parallel_b"])
    total = in_parallel(flow, drops)
    assert total[0, 500:] == pytest.approx(two["parallel_expected"] * flow[500:] ** 2, rel=1e-4)
    with pytest.raises(Contradiction):
        in_parallel(flow, (drops[0], -drops[1]))


def test_rows_follow_the_sources_asked_for_and_the_seed():
    fitted = measured(truth(*RADIATOR))
    rows = fitted.rows(sources=("another", "bench/pressure gain"))
    assert rows[1] == pytest.approx(fitted.central)
    assert rows[2] == pytest.approx(fitted.central + fitted.effects[0])
    shared = fitted.rows(Part.SHARED)[2:]
    draws = normal_draws("bench/pressure gain", 2000)
    assert shared[:, 1] == pytest.approx(fitted.central[1] * (1 + 0.003 * draws), rel=1e-6)
    with pytest.raises(UnknownThing):
        fitted.rows(sources=("another",))
    again, other = measured(truth(*RADIATOR)), measured(truth(*RADIATOR), seed=5)
    assert np.array_equal(again.rows(), fitted.rows())
    assert not np.array_equal(other.noise, fitted.noise)


def test_too_few_readings_are_refused():
    with pytest.raises(NotPossible, match="at least 4"):
        fit_resistance(
            FLOW[:4],
            truth(*RADIATOR)[:4],
            shared_flow=np.zeros((0, 4)),
            shared_pressure=np.zeros((0, 4)),
            own_flow=np.zeros(4),
            own_pressure=np.ones(4),
            sources=(),
            identity="few",
        )


def test_pressure_drop_of_both_forms():
    flow = np.array([0.0, 0.5, 2.0])
    assert pressure_drop(Law.LINEAR_QUADRATIC, np.array([[2.0, 3.0]]), flow)[0].tolist() == [0.0, 1.75, 16.0]
    assert pressure_drop(Law.POWER, np.array([[2.0, 3.0]]), flow)[0].tolist() == [0.0, 0.25, 16.0]
