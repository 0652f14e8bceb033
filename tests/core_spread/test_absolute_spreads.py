"""Spreads of quantities whose zero is a convention: absolute, in the quantity's own unit."""

import numpy as np
import pytest

from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.spread import (
    FIRST_YEAR_MOUNTING_LEVEL,
    FIRST_YEAR_SAMPLE_LEVEL,
    MountingValue,
    PooledSpread,
    Spreads,
    pooled_spreads,
)

M = 40_000


def known(mounting: float, sample: float) -> Spreads:
    return Spreads(PooledSpread.agreed(mounting, 1e6), PooledSpread.agreed(sample, 1e6))


def result(sample: str, mounting: str, value: float, noise: float = 0.0) -> MountingResult:
    draws = noise * normal_draws(f"noise/{mounting}", M)
    return MountingResult(sample, mounting, value, np.full(M, value), draws, {})


@pytest.mark.parametrize("level", [-3.0, 0.0, 30.0])
def test_the_spread_of_levels_does_not_grow_with_the_level(level: float) -> None:
    fan = combine_mountings([result("s", "m", level)], known(0.4, 0.7), scale=1.0)
    assert fan.variance == pytest.approx(0.4**2 + 0.7**2, rel=1e-9)
    assert fan.trials.std() == pytest.approx(np.hypot(0.4, 0.7), rel=0.02)
    assert fan.parts.sample == pytest.approx(0.49)
    assert fan.parts.mounting == pytest.approx(0.16)


def test_absolute_equals_relative_where_the_value_is_the_scale() -> None:
    mountings = [result("s1", "a", 50.0, 0.3), result("s1", "b", 50.0), result("s2", "c", 50.0)]
    relative = combine_mountings(mountings, known(0.01, 0.02))
    absolute = combine_mountings(mountings, known(0.01, 0.02), scale=50.0)
    assert np.array_equal(relative.trials, absolute.trials)
    assert relative.loadings == absolute.loadings


def test_three_samples_lean_on_their_own_spread_in_decibels() -> None:
    mountings = [result(f"s{i}", f"m{i}", 30.0 + shift) for i, shift in enumerate((-2.0, 0.0, 2.0))]
    fan = combine_mountings(
        mountings, Spreads(PooledSpread.agreed(0.0, 4.0), PooledSpread.agreed(0.7, 4.0)), scale=1.0
    )
    own = (5 * 0.7**2 + 8.0) / (5 + 2)  # V = (ν₀ s₀² + SS)/(ν₀ + df), Gelman et al., section 3.2
    assert fan.parts.sample == pytest.approx(own)


def test_levels_are_pooled_in_decibels() -> None:
    values = [
        MountingValue("f", "s1", "a", 30.0),
        MountingValue("f", "s1", "b", 31.0),
        MountingValue("g", "s1", "c", -0.5),
        MountingValue("g", "s1", "d", 0.5),
        MountingValue("g", "s2", "e", 3.0),
    ]
    found = pooled_spreads(
        values,
        prior_sample_sd=FIRST_YEAR_SAMPLE_LEVEL,
        prior_mounting_sd=FIRST_YEAR_MOUNTING_LEVEL,
        relative=False,
    )
    mounting = (4 * 0.4**2 + 0.5 + 0.5) / (4 + 2)
    between = 1.5**2 * 2 - mounting * (0.5 + 1.0) / 2
    assert found.mounting.variance == pytest.approx(mounting)
    assert found.sample.variance == pytest.approx((4 * 0.7**2 + between) / (4 + 1))
