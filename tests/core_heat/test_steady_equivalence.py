"""Steady as an equivalence test, over runs of which it is known whether they are steady."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from settling_truth import CORRELATIONS, READING, any_run, correlated, opened_door

from stillroom.core.arrays import Array
from stillroom.core.heat.steady import steadiness
from stillroom.errors import BadInput, NotPossible

TOLERANCE = 0.05


def drifting(rng: np.random.Generator, kind: str, remaining: float) -> tuple[Array, Array, float]:
    """A run with so much still to come at its end [K]: times, readings, time constant."""
    tau = float(rng.uniform(200.0, 600.0))
    t = np.arange(int(rng.uniform(3.2, 6.0) * tau), dtype=np.float64)
    x = (t - t[-1]) / tau
    shape = {"approach": np.exp(-x), "drift": x, "both": 0.5 * x - 0.5 * np.exp(-x)}[kind]
    noise = correlated(rng, t.size, float(rng.choice(CORRELATIONS)), READING)
    return t, 12.0 + remaining * shape + noise, tau


@pytest.mark.parametrize("kind", ["approach", "drift", "both"])
def test_false_steady_is_rare(kind: str) -> None:
    """Under 1 % of 400 runs each with 1 to 3 tolerances still to come, up or down, are called steady."""
    rng = np.random.default_rng(11)
    wrong = 0
    for _ in range(400):
        remaining = TOLERANCE * rng.uniform(1.0, 3.0) * rng.choice([-1.0, 1.0])
        times, values, tau = drifting(rng, kind, float(remaining))
        wrong += steadiness(times, values, tau, tolerance=TOLERANCE).is_steady
    assert wrong < 4


def moment_of_steady(rng: np.random.Generator, r: float) -> tuple[float, float]:
    """When a run is first called steady, in time constants, and what is still to come then [K]."""
    run, _ = any_run(rng, end=12.0, amplitude=-12.0)
    times, values = run.readings(rng, 9.0, r)
    for x in np.arange(4.5, 9.0, 0.125):
        some = times <= x * run.tau
        if steadiness(times[some], values[some], run.tau).is_steady:
            return float(x), run.end - float(run.curve(times[some][-1:])[0])
    return np.inf, 0.0


@pytest.mark.parametrize(("r", "usual", "late"), [(0.0, 5.6, 5.9), (0.6, 5.7, 6.3), (0.9, 6.2, 8.0)])
def test_steady_is_reached_in_good_time(r: float, usual: float, late: float) -> None:
    """12 K come within 0.05 K after ln(12 · 0.8/0.05) = 5.26 time constants; the proof comes soon after."""
    found = np.array([moment_of_steady(np.random.default_rng(seed), r) for seed in range(25)])
    assert np.median(found[:, 0]) <= usual
    assert np.quantile(found[:, 0], 0.9) <= late
    assert np.mean(found[:, 1] > TOLERANCE) <= 0.08  # looked at again and again; never by more than a little
    assert found[:, 1].max() < 1.3 * TOLERANCE


def test_more_noise_never_helps() -> None:
    """The trap of "slope not significant": here noise can only put steadiness off."""
    for seed in range(20):
        rng = np.random.default_rng(seed)
        t = np.arange(1500.0)
        noise = correlated(rng, t.size, 0.6, 1.0)
        drift = 12.0 + 0.06 * (t - t[-1]) / 400.0
        assert not steadiness(t, drift + 0.5 * noise, 400.0).is_steady


@pytest.mark.parametrize("r", [0.0, 0.7])
def test_slope_and_uncertainty_beside_statsmodels(r: float) -> None:
    """A straight drift that falls: GLSAR on single readings, ours on means over spans."""
    ratios, slopes = [], []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        t = np.arange(1200.0)
        values = 12.0 - 1e-4 * t + correlated(rng, t.size, r, READING)
        ours = steadiness(t, values, 400.0)
        theirs = sm.GLSAR(values, sm.add_constant(t), 1).iterative_fit(6)
        ratios.append(ours.u_slope / theirs.bse[1])
        slopes.append((ours.slope - theirs.params[1]) / theirs.bse[1])
    assert np.median(ratios) == pytest.approx(
        1.15, abs=0.15
    )  # few means: Student's t, and r corrected upward
    assert (
        np.quantile(np.abs(slopes), 0.8) < 1.5
    )  # where the curve bounds it better, that one's slope is told


def test_bound_is_slope_and_expanded_uncertainty_over_one_time_constant() -> None:
    run, r = any_run(np.random.default_rng(2))
    found = steadiness(*run.readings(np.random.default_rng(3), 5.0, r), run.tau)
    assert found.bound == pytest.approx((abs(found.slope) + 1.96 * found.u_slope) * run.tau)


@pytest.mark.parametrize("tau", [150.0, 320.0, 700.0])
def test_an_approach_without_noise(tau: float) -> None:
    """The slope of y∞ − R exp(−t/τ) at its end is R/τ (closed form), so the bound is what is still to come."""
    t = np.arange(0.0, 5.0 * tau)
    found = steadiness(t, 12.0 - 12.0 * np.exp(-t / tau), tau)
    assert found.bound == pytest.approx(12.0 * np.exp(-t[-1] / tau), rel=0.01)
    assert not found.is_steady
    assert found.since is None


def test_since_is_where_it_became_steady() -> None:
    rng = np.random.default_rng(5)
    run, _ = any_run(rng, end=12.0, tau=300.0, amplitude=-12.0)
    times, values = run.readings(rng, 9.0, 0.3)
    found = steadiness(times, values, run.tau)
    assert found.is_steady
    assert 5.2 * run.tau <= found.since <= 6.0 * run.tau
    before = times <= found.since
    assert steadiness(times[before], values[before], run.tau).is_steady


def test_spikes_are_left_out() -> None:
    rng = np.random.default_rng(6)
    run, _ = any_run(rng, tau=300.0)
    times, values = run.readings(rng, 7.0, 0.5)
    clean = steadiness(times, values, run.tau)
    at = np.array([1300, 1604, 1900, 2080])
    values[at] += [8.0, -5.0, 3.0, -20.0]
    found = steadiness(times, values, run.tau)
    assert found.is_steady
    assert clean.is_steady
    assert np.all(found.left_out[at])
    assert found.bound == pytest.approx(clean.bound, abs=0.005)


def test_an_opened_door_is_left_out_and_awaited() -> None:
    """While it is open the run isn't called steady; two minutes after it closed it is again."""
    again = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        run, _ = any_run(rng, tau=400.0)
        times, values = run.readings(rng, 8.0, 0.6)
        door = 6.6 * run.tau
        values = values + opened_door(times, door, 60.0, 0.6)
        during, after = times < door + 40.0, times < door + 60.0 + 180.0
        assert not steadiness(times[during], values[during], run.tau).is_steady
        found = steadiness(times[after], values[after], run.tau)
        again += found.is_steady
        if found.is_steady:
            assert np.mean(found.left_out[(times[after] > door + 16.0) & (times[after] < door + 60.0)]) > 0.9
    assert again >= 18


def test_a_step_that_stays_is_not_left_out() -> None:
    """What doesn't decay within a quarter of the window is no opened door."""
    rng = np.random.default_rng(8)
    t = np.arange(2400.0)
    values = 12.0 + correlated(rng, t.size, 0.3, READING) + np.where(t > 2000.0, 0.5, 0.0)
    assert not steadiness(t, values, 400.0).is_steady


def test_gaps_and_rare_readings() -> None:
    rng = np.random.default_rng(9)
    t = np.arange(0.0, 2400.0, 5.0)
    values = 12.0 + correlated(rng, t.size, 0.2, 0.01)
    values[300:330] = np.nan
    found = steadiness(t, values, 400.0)
    assert found.is_steady
    assert found.left_out.shape == t.shape
    assert np.all(found.left_out[300:330])


def test_what_is_refused() -> None:
    t = np.arange(900.0)
    with pytest.raises(NotPossible, match="series of 899 s"):
        steadiness(t, t * 0.0 + 12.0, 400.0)
    with pytest.raises(NotPossible, match="readings"):
        steadiness(np.linspace(0.0, 2000.0, 9), np.full(9, 12.0), 400.0)
    with pytest.raises(BadInput, match="three time constants"):
        steadiness(t, t, 100.0, windows=2.0)
    with pytest.raises(BadInput, match="rising"):
        steadiness(t[::-1], t, 100.0)


@pytest.mark.parametrize("faster", [4.0, 8.0])
@pytest.mark.parametrize("share", [0.0, 0.15, 0.3])
def test_a_clean_rise_is_no_disturbance(share: float, faster: float) -> None:
    """White noise of 0.03 K every 5 s about one or two modes from the moment of the heat on: nothing is left out."""
    rng, tau, told = np.random.default_rng(9), 600.0, 0
    for span in (3.2, 3.5, 4.0, 5.0, 6.0, 8.0):
        t = np.arange(0.0, span * tau, 5.0)
        for judged in (0.95, 1.0, 1.05):
            modes = (1.0 - share) * np.exp(-t / tau) + share * np.exp(-faster * t / tau)
            values = 15.0 * (1.0 - modes) + rng.normal(0.0, 0.03, t.size)
            told += bool(steadiness(t, values, judged * tau).left_out[t < 3.0 * tau].any())
    assert told <= 1  # of 18: five robust standard deviations of 50 means, once in a while


def test_a_door_in_the_first_rise_is_left_out() -> None:
    rng, tau = np.random.default_rng(10), 600.0
    t = np.arange(0.0, 4.0 * tau, 5.0)
    values = 15.0 * (1.0 - np.exp(-t / tau)) + rng.normal(0.0, 0.03, t.size)
    values = values + opened_door(t, 1.5 * tau, 90.0, -1.0)
    found = steadiness(t, values, tau).left_out
    assert found[(t > 1.5 * tau + 30.0) & (t < 1.5 * tau + 80.0)].all()
    assert not found[(t < 1.4 * tau) | (t > 2.0 * tau)].any()
