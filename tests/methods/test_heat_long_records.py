"""Settings that are held very long, or were steady before their record began: no rise or fall is left to be seen."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.heat.forecast import TimeConstant
from stillroom.live.judging import Account
from stillroom.methods.heat.stepping import LONGEST_TAU, judge

TAU, RISE, NOISE = 300.0, 15.0, 0.03


def record(span: float, *, begun: float = 0.0, drift: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """A first-order rise that has run for `begun` seconds already, with white noise and a drift [K/s]."""
    times = np.arange(0.0, span, 2.0)
    noise = NOISE * np.random.default_rng(3).standard_normal(times.size)
    return times, RISE - 12.0 * np.exp(-(times + begun) / TAU) + drift * times + noise


@pytest.mark.parametrize(
    ("span", "begun"), [(3.0 * LONGEST_TAU + 10.0, 3000.0), (9000.0, 0.0), (36_000.0, 0.0)]
)
def test_a_long_flat_record_is_steady_though_no_time_constant_can_be_found(span: float, begun: float) -> None:
    times, rise = record(span, begun=begun)
    found = judge(times, rise, None, 0.05)
    assert found.forecast is None
    assert found.steadiness is not None
    assert found.steadiness.is_steady
    assert found.steadiness.tau == LONGEST_TAU


def test_a_drift_that_matters_over_the_longest_time_constant_is_not_steady() -> None:
    times, rise = record(3600.0, begun=3000.0, drift=1.5 * 0.05 / LONGEST_TAU)
    found = judge(times, rise, None, 0.05)
    assert found.steadiness is None or not found.steadiness.is_steady


def test_a_short_flat_record_without_a_known_time_constant_says_so() -> None:
    times, rise = record(1800.0, begun=3000.0)
    found = judge(times, rise, None, 0.05)
    assert found.steadiness is None
    assert "no rise or fall" in found.why


def test_a_known_time_constant_comes_first() -> None:
    times, rise = record(3600.0, begun=3000.0)
    found = judge(times, rise, TimeConstant(TAU, 75.0), 0.05)
    assert found.steadiness is not None
    assert found.steadiness.tau == TAU


def test_a_run_that_is_watched_is_judged_alike() -> None:
    times, rise = record(9000.0)
    whole, grown = judge(times, rise, None, 0.05), Account()(times, rise, None, 0.05)
    assert whole.steadiness is not None
    assert grown.steadiness is not None
    assert grown.steadiness.is_steady
    assert grown.steadiness.bound == pytest.approx(whole.steadiness.bound, rel=1e-6)
