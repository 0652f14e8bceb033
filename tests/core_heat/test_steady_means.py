"""Means of correlated series: closed forms, brute force, statsmodels as a second route."""

from __future__ import annotations

import numpy as np
import pytest
from settling_truth import correlated
from statsmodels.tsa.stattools import acf

from stillroom.core.heat.autocorrelation import effective_number, first_order, mean_of, mean_variance
from stillroom.errors import NotPossible


@pytest.mark.parametrize("r", [0.0, 0.4, 0.9])
@pytest.mark.parametrize("n", [5, 60, 600])
def test_variance_of_a_mean(n: int, r: float) -> None:
    """Brute force: the mean of all entries of the correlation matrix."""
    places = np.arange(n)
    assert mean_variance(n, r) == pytest.approx(
        float((r ** np.abs(np.subtract.outer(places, places))).mean()), rel=1e-12
    )


def test_effective_number() -> None:
    """N(1 − ρ)/(1 + ρ): 600 readings at ρ = 0.9 are worth 31.578947368421048.

    Source: large-N limit 1 + 2 Σ ρᵏ, as in lecture notes on Monte Carlo integration (compphysics.github.io).
    """
    assert effective_number(600, 0.9) == pytest.approx(31.578947368421048, rel=1e-9)
    assert effective_number(600, 0.9) == pytest.approx(1.0 / mean_variance(600, 0.9), rel=0.02)


def test_lag_one_is_statsmodels_with_the_correction_for_few_readings() -> None:
    series = correlated(np.random.default_rng(1), 400, 0.7, 1.0)
    raw = float(acf(series, nlags=1, fft=False)[1]) * 400 / 399  # ours divides by the number of pairs
    assert first_order(series) == pytest.approx((400 * raw + 1.0) / 396.0, rel=1e-9)


@pytest.mark.parametrize("r", [0.0, 0.5, 0.9])
def test_the_correction_takes_the_bias_away(r: float) -> None:
    """A quarter of what an uncorrected lag-1 of 60 readings misses by, (1 + 4 r)/n, at most."""
    rng = np.random.default_rng(2)
    found = [first_order(correlated(rng, 60, r, 1.0)) for _ in range(800)]
    clipped = 0.055 if r == 0.0 else 0.0  # at r = 0 what is negative counts as 0: half a normal distribution
    assert np.mean(found) - clipped == pytest.approx(r, abs=(1.0 + 4.0 * r) / 60.0 / 4.0 + 0.006)


@pytest.mark.parametrize("r", [0.0, 0.6, 0.9])
def test_a_mean_is_within_its_uncertainty(r: float) -> None:
    rng = np.random.default_rng(3)
    means = [mean_of(12.0 + correlated(rng, 600, r, 0.03)) for _ in range(400)]
    off = np.array([(each.value - 12.0) / each.u for each in means])
    assert np.mean(np.abs(off) < 1.96) == pytest.approx(0.95, abs=0.03)
    naive = np.array([(each.value - 12.0) / (0.03 / np.sqrt(600)) for each in means])
    if r:
        assert np.mean(np.abs(naive) < 1.96) < 0.75  # what s/√n would claim


def test_spikes_and_gaps_do_not_move_a_mean() -> None:
    rng = np.random.default_rng(4)
    clean = 12.0 + correlated(rng, 300, 0.3, 0.03)
    spoiled = clean.copy()
    spoiled[[20, 150, 260]] += [5.0, -3.0, 40.0]
    spoiled[200:210] = np.nan
    assert mean_of(spoiled).value == pytest.approx(mean_of(clean).value, abs=0.002)
    assert mean_of(spoiled).u < 1.3 * mean_of(clean).u


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(NotPossible, match="at least 8"):
        mean_of(np.array([1.0, np.nan, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]))


def test_a_constant_series_has_no_correlation() -> None:
    assert first_order(np.full(30, 2.5)) == 0.0
    assert mean_of(np.full(30, 2.5)).u == 0.0
