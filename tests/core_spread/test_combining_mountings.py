"""From mountings to a fan: weights, variance, loadings, and what is not counted twice."""

import numpy as np
import pytest

from stillroom.core.combine import MountingResult, VarianceParts, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.spread import MountingValue, PooledSpread, Spreads, own_spread, pooled_spreads
from stillroom.errors import BadInput

M = 40_000
MANY = 1e6  # degrees of freedom so many that the spread is as good as known


def known(mounting: float, sample: float) -> Spreads:
    return Spreads(PooledSpread.agreed(mounting, MANY), PooledSpread.agreed(sample, MANY))


def result(
    sample: str, mounting: str, value: float, *, noise: float = 0.0, shared: dict[str, float] | None = None
) -> MountingResult:
    loadings = shared or {}
    moved = value + sum((each * normal_draws(source, M) for source, each in loadings.items()), np.zeros(M))
    return MountingResult(
        sample, mounting, value, moved, noise * normal_draws(f"noise/{mounting}", M), loadings
    )


def test_mean_over_samples_of_means_over_mountings() -> None:
    fan = combine_mountings(
        [
            result("s1", "m1", 96.0),
            result("s1", "m2", 98.0),
            result("s1", "m3", 100.0),
            result("s2", "m4", 104.0),
        ],
        known(0.0, 0.0),
    )
    assert fan.value == pytest.approx((98.0 + 104.0) / 2)  # not the mean of the four, 99.5
    assert (fan.samples, fan.mountings) == (2, 4)
    assert fan.parts.mountings_per_sample == (3, 1)


def test_variance_by_hand_and_trials_agree() -> None:
    spreads = known(0.004, 0.01)
    fan = combine_mountings(
        [
            result("s1", "m1", 100.0, noise=0.2, shared={"bore": 0.5, "barometer": 0.3}),
            result("s1", "m2", 100.0, noise=0.2, shared={"bore": 0.5}),
            result("s2", "m3", 100.0, noise=0.2, shared={"bore": 0.5}),
        ],
        spreads,
    )
    shared = 0.5**2 + (0.3 / 4) ** 2
    mounting = 0.4**2 * (1 / 16 + 1 / 16 + 1 / 4)
    sample = 1.0**2 / 2
    assert fan.variance == pytest.approx(shared + mounting + sample, rel=1e-3)
    assert fan.trials.var() == pytest.approx(fan.variance, rel=0.03)
    assert fan.loadings["bore"] == pytest.approx(0.5)
    assert fan.loadings["barometer"] == pytest.approx(0.075)
    assert fan.loadings["sample/s1"] == pytest.approx(0.5)
    total = fan.own_variance + sum(each**2 for each in fan.loadings.values())
    assert total == pytest.approx(fan.variance, rel=1e-12)
    assert fan.parts.private == pytest.approx(mounting + sample, rel=1e-6)
    assert set(fan.parts.loadings) == {"bore", "barometer"}


def test_reading_noise_is_not_counted_twice() -> None:
    quiet = combine_mountings([result("s", "m", 100.0, noise=0.0)], known(0.01, 0.0))
    noisy = combine_mountings([result("s", "m", 100.0, noise=0.8)], known(0.01, 0.0))
    assert quiet.variance == pytest.approx(1.0, rel=1e-6)
    assert noisy.variance == pytest.approx(1.0, rel=1e-6)  # 0.8² is inside the 1², not beside it
    assert noisy.trials.var() == pytest.approx(1.0, rel=0.03)
    louder = combine_mountings([result("s", "m", 100.0, noise=1.5)], known(0.01, 0.0))
    assert louder.variance == pytest.approx(1.5**2, rel=0.03)  # larger than the pooled spread: it stays
    assert louder.parts.mounting == pytest.approx(1.5**2, rel=0.03)


def test_shared_errors_cancel_between_fans_and_private_ones_do_not() -> None:
    spreads = known(0.002, 0.0)
    first = combine_mountings([result("a", "a1", 100.0, shared={"meter": 2.0})], spreads)
    second = combine_mountings([result("b", "b1", 100.0, shared={"meter": 2.0})], spreads)
    assert first.trials.std() > 1.9
    assert (first.trials - second.trials).std() == pytest.approx(0.2 * np.sqrt(2), rel=0.03)


def test_the_same_sample_has_the_same_error_in_two_measures() -> None:
    spreads = known(0.0, 0.01)
    first = combine_mountings([result("a", "a1", 100.0)], spreads)
    second = combine_mountings([result("a", "a2", 50.0)], spreads)
    assert np.corrcoef(first.trials, second.trials)[0, 1] == pytest.approx(1.0)


def test_few_degrees_of_freedom_widen_by_students_t() -> None:
    spreads = Spreads(PooledSpread.agreed(0.0, 4.0), PooledSpread.agreed(0.01, 4.0))
    fan = combine_mountings([result("s", "m", 100.0)], spreads)
    low, high = np.quantile(fan.trials, [0.025, 0.975])
    assert (high - low) / 2 == pytest.approx(2.776, rel=0.03)  # t(0.975; 4), standard table


def test_three_samples_lean_on_their_own_spread() -> None:
    spreads = known(0.0, 0.01)
    cells = [result(f"s{index}", f"m{index}", value) for index, value in enumerate((97.0, 100.0, 103.0))]
    fan = combine_mountings(cells, spreads)
    own = own_spread(spreads.sample, 2 * 0.03**2, 2)
    assert fan.parts.sample == pytest.approx(own.variance * 100.0**2)
    two = combine_mountings(cells[:2], spreads)
    assert two.parts.sample == pytest.approx((0.01 * 98.5) ** 2)


def test_the_order_of_the_mountings_changes_no_bit() -> None:
    cells = [result("s1", "m1", 99.1, noise=0.3), result("s2", "m2", 100.7), result("s1", "m3", 101.3)]
    spreads = pooled_spreads([MountingValue("F", one.sample, one.mounting, one.value) for one in cells])
    forth, back = combine_mountings(cells, spreads), combine_mountings(cells[::-1], spreads)
    assert np.array_equal(forth.trials, back.trials)
    assert (forth.value, forth.variance, forth.loadings) == (back.value, back.variance, back.loadings)


def test_private_variance_after_further_work() -> None:
    parts = VarianceParts(sample=1.0, mounting=0.4, mountings_per_sample=(1, 2))
    assert parts.private == pytest.approx((1.0 + 0.4 * (1 + 0.5) / 2) / 2)
    assert parts.after_mountings(1)[1] == pytest.approx((1.0 + 0.4 * 0.5) / 2)  # goes to the poorer one
    assert parts.after_samples(1)[1] == pytest.approx((1.0 + 0.4 * (1 + 0.5 + 1) / 3) / 3)
    assert parts.after_mountings(3)[3] == pytest.approx((1.0 + 0.4 * (1 / 3 + 1 / 3) / 2) / 2)
    assert parts.after_mountings(3)[0] == parts.after_samples(3)[0] == parts.private


def test_what_cannot_be_combined_is_refused() -> None:
    spreads = known(0.01, 0.01)
    with pytest.raises(BadInput):
        combine_mountings([], spreads)
    with pytest.raises(BadInput):
        combine_mountings([result("s", "m", 1.0), result("t", "m", 1.0)], spreads)
    short = MountingResult("t", "n", 1.0, np.zeros(5), np.zeros(5))
    with pytest.raises(BadInput):
        combine_mountings([result("s", "m", 1.0), short], spreads)
