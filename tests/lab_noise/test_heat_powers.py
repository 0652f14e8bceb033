"""Power of the fans on the heat rig: a setting run twice tells no slope, and no draw falls below zero."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.spread import PooledSpread, Spreads
from stillroom.errors import OutOfRange
from stillroom.lab.heat.powers import combine_powers
from stillroom.lab.heat.valuing import _along

SPREADS = Spreads(PooledSpread.agreed(0.02, 6.0), PooledSpread.agreed(0.03, 4.0))


def mounting(name: str, value: float, trials: np.ndarray) -> MountingResult:
    return MountingResult("Birch/s1", name, value, trials, np.zeros_like(trials), {"level": 0.1 * value})


def test_a_setting_run_twice_counts_as_one_point() -> None:
    # 2 W at 1500 rpm by the cube; the first setting again, 0.01 % apart in speed and 1 % in power
    speeds = np.array([1105.0, 1105.1, 1375.0, 1705.0])
    powers = 2.0 * (speeds / 1500.0) ** 3 * np.array([0.995, 1.005, 1.0, 1.0])
    for asked in (950.0, 1090.0, 1105.05, 1200.0, 1800.0):
        found = float(np.exp(_along(np.log(speeds), np.log(powers), np.log(np.array([asked]))))[0])
        assert found == pytest.approx(2.0 * (asked / 1500.0) ** 3, rel=0.005), asked


def test_no_draw_of_a_power_falls_below_zero() -> None:
    # a limit that two speeds may stand for: some trials draw a twentieth of the central power
    rng = np.random.default_rng(5)
    trials = np.where(rng.random(4000) < 0.2, 0.025, 0.5)
    wide = Spreads(PooledSpread.agreed(0.10, 4.0), PooledSpread.agreed(0.05, 4.0))
    one = mounting("h1", 0.5, trials)
    assert combine_mountings([one], wide).trials.min() < 0.0
    found = combine_powers([one], wide, identity="heat-power")
    assert found.trials.min() > 0.0
    assert found.value == pytest.approx(0.5, rel=1e-12)


def test_with_a_small_spread_both_scales_say_the_same() -> None:
    trials = 0.5 * np.exp(0.01 * np.random.default_rng(6).standard_normal(20000))
    both = [mounting("h1", 0.5, trials), mounting("h2", 0.51, 1.02 * trials)]
    plain, found = combine_mountings(both, SPREADS), combine_powers(both, SPREADS, identity="spread")
    assert found.value == pytest.approx(np.sqrt(0.5 * 0.51), rel=1e-12)
    assert found.trials.std() == pytest.approx(plain.trials.std(), rel=0.02)
    assert found.variance == pytest.approx(plain.variance, rel=0.01)
    assert found.parts.private == pytest.approx(plain.parts.private, rel=0.01)
    squares = sum(each**2 for each in found.loadings.values()) + found.own_variance
    assert squares == pytest.approx(found.variance, rel=1e-9)


def test_a_power_of_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="above 0"):
        combine_powers([mounting("h1", 0.0, np.ones(10))], SPREADS, identity="spread")
