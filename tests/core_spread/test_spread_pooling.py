"""Pooled spreads against NIST's certified analysis of variance, hand calculation and simulation."""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from stillroom.core.spread import (
    MountingValue,
    PooledSpread,
    nested_squares,
    own_spread,
    pooled_spreads,
    variance_factor,
    with_prior,
)
from stillroom.errors import BadInput, OutOfRange

NIST = Path(__file__).parents[1] / "reference" / "nist_anova"


def nist_cells(name: str) -> list[np.ndarray]:
    """Responses by treatment; data begin at line 61 in every file of the set."""
    rows = [line.split() for line in (NIST / name).read_text().splitlines()[60:] if line.strip()]
    groups: dict[str, list[float]] = {}
    for group, response in rows:
        groups.setdefault(group, []).append(float(response))
    return [np.array(group) for group in groups.values()]


# Certified values from the head of each file. SmLs07 has 13 constant leading digits: a double holds its
# responses to about 1e-4, so no calculation from them keeps more than three digits.
@pytest.mark.parametrize(
    ("name", "f_statistic", "residual_sd", "rel"),
    [
        ("SiRstv.dat", 1.18046237440255, 1.04076068334656e-01, 1e-10),
        ("SmLs01.dat", 21.0, 0.1, 1e-10),
        ("SmLs07.dat", 21.0, 0.1, 2e-3),
    ],
)
def test_sums_of_squares_against_nist_certified_anova(
    name: str, f_statistic: float, residual_sd: float, rel: float
) -> None:
    cells = nist_cells(name)
    squares = nested_squares([cells], relative=False)
    each = cells[0].size  # the sets are balanced: SS between = replicates × squares of means
    between = each * squares.between / squares.between_dof
    within = squares.within / squares.within_dof
    assert between / within == pytest.approx(f_statistic, rel=rel)
    assert np.sqrt(within) == pytest.approx(residual_sd, rel=rel)
    assert squares.carried == pytest.approx(squares.between_dof / each)


def test_hand_calculation_of_a_small_round() -> None:
    # Fan A: sample 1 at 99 and 101, sample 2 at 104 and 104 (mean 102); fan B: one sample, one mounting.
    values = [
        MountingValue("A", "1", "a", 99.0),
        MountingValue("A", "1", "b", 101.0),
        MountingValue("A", "2", "c", 104.0),
        MountingValue("A", "2", "d", 104.0),
        MountingValue("B", "1", "e", 50.0),
    ]
    spreads = pooled_spreads(values, prior_sample_sd=0.012, prior_mounting_sd=0.005, prior_dof=4.0)
    mounting = (4 * 0.005**2 + 2 / 102**2) / (4 + 2)
    assert spreads.mounting.variance == pytest.approx(mounting, rel=1e-12)
    assert spreads.mounting.dof == 6.0
    assert spreads.mounting.data_sd == pytest.approx(1 / 102)
    between = 8 / 102**2 - mounting / 2  # (100 − 102)² + (104 − 102)², less (2 − 1) σ_m² mean(1/2, 1/2)
    assert spreads.sample.variance == pytest.approx((4 * 0.012**2 + between) / 5, rel=1e-12)
    assert (spreads.sample.dof, spreads.sample.data_dof) == (5.0, 1.0)


def test_without_replicates_the_prior_stands() -> None:
    spreads = pooled_spreads([MountingValue("A", "1", "a", 80.0), MountingValue("B", "1", "b", 90.0)])
    assert (spreads.sample.sd, spreads.sample.dof) == (0.012, 4.0)
    assert (spreads.mounting.sd, spreads.mounting.dof) == (0.005, 4.0)


def test_sample_spread_is_never_negative() -> None:
    # The samples' means agree exactly while their mountings don't.
    values = [
        MountingValue(fan, sample, f"{fan}{sample}{value}", value)
        for fan in "AB"
        for sample in "12"
        for value in (95.0, 105.0)
    ]
    spreads = pooled_spreads(values)
    assert spreads.sample.data_sd == 0.0
    assert spreads.sample.variance == pytest.approx(4 * 0.012**2 / 6)


def test_order_and_scale_of_the_values_do_not_matter() -> None:
    rng = np.random.default_rng(5)
    values = [
        MountingValue(f"F{fan}", f"S{sample}", f"M{mounting}", float(rng.normal(100, 1)))
        for fan in range(5)
        for sample in range(2)
        for mounting in range(3)
    ]
    shuffled = [values[index] for index in rng.permutation(len(values))]
    assert pooled_spreads(shuffled) == pooled_spreads(values)
    small = [MountingValue(one.fan, one.sample, one.mounting, one.value / 3600) for one in values]
    assert pooled_spreads(small).sample.sd == pytest.approx(pooled_spreads(values).sample.sd, rel=1e-9)


def test_variance_parts_are_found_without_bias_in_unequal_groups() -> None:
    # 1,500 fans of 1 to 3 samples with 1 to 3 mountings, known truth, prior of no weight.
    rng = np.random.default_rng(11)
    values = []
    for fan in range(1500):
        for sample in range(int(rng.integers(1, 4))):
            unit = 100.0 + fan % 7 + rng.normal(0, 1.0)
            values += [
                MountingValue(str(fan), str(sample), str(mounting), unit + float(rng.normal(0, 0.8)))
                for mounting in range(int(rng.integers(1, 4)))
            ]
    spreads = pooled_spreads(values, prior_dof=0.001)
    assert spreads.mounting.sd == pytest.approx(0.8 / 103, rel=0.04)
    assert spreads.sample.sd == pytest.approx(1.0 / 103, rel=0.06)


@pytest.mark.parametrize("dof", [4.0, 9.0, 44.0])
def test_normal_draws_times_the_factor_follow_students_t(dof: float) -> None:
    normal = np.random.default_rng(3).normal(size=40_000)
    drawn = normal * np.sqrt(variance_factor(dof, 40_000, identity="spread/flow/sample", seed=1))
    assert stats.kstest(drawn, stats.t(dof).cdf).pvalue > 0.01
    assert stats.kstest(drawn, stats.norm.cdf).pvalue < (0.01 if dof < 10 else 1.0)


def test_factor_is_the_inverse_of_scipys_chi_squared() -> None:
    factor = variance_factor(7.0, 50_000, identity="spread", seed=2)
    assert np.mean(factor) == pytest.approx(7 / 5, rel=0.02)  # mean of ν/χ²_ν is ν/(ν − 2)
    low, high = np.quantile(7.0 / factor, [0.025, 0.975])
    assert low == pytest.approx(stats.chi2.ppf(0.025, 7), rel=0.03)
    assert high == pytest.approx(stats.chi2.ppf(0.975, 7), rel=0.03)


def test_factor_is_one_draw_for_all_who_share_its_identity() -> None:
    first = variance_factor(6.0, 100, identity="spread/a", seed=2)
    assert np.array_equal(first, variance_factor(6.0, 100, identity="spread/a", seed=2))
    assert np.array_equal(first[:10], variance_factor(6.0, 10, identity="spread/a", seed=2))
    assert not np.array_equal(first, variance_factor(6.0, 100, identity="spread/b", seed=2))
    assert not np.array_equal(first, variance_factor(6.0, 100, identity="spread/a", seed=3))


def test_own_spread_leans_on_the_pooled_one() -> None:
    pooled = with_prior(20 * 0.01**2, 20, prior_sd=0.012)
    own = own_spread(pooled, 2 * 0.03**2, 2)
    assert own.variance == pytest.approx((5 * pooled.variance + 2 * 0.03**2) / 7)
    assert own.dof == 7.0
    assert own_spread(pooled, -1e-5, 2).variance == pytest.approx(5 * pooled.variance / 7)


def test_an_agreed_spread_is_taken_as_it_stands() -> None:
    agreed = PooledSpread.agreed(0.011, 23.0)
    assert (agreed.sd, agreed.dof, agreed.data_dof) == (pytest.approx(0.011), 23.0, 0.0)


def test_what_cannot_be_pooled_is_refused() -> None:
    with pytest.raises(BadInput):
        nested_squares([[np.array([1.0, np.nan])]])
    with pytest.raises(BadInput):
        nested_squares([[np.array([])]])
    with pytest.raises(OutOfRange):
        nested_squares([[np.array([-1.0, 1.0])]])
    with pytest.raises(BadInput):
        with_prior(0.0, 0.0, prior_sd=0.01, prior_dof=0.0)
    with pytest.raises(BadInput):
        with_prior(-1.0, 3.0, prior_sd=0.01)
    with pytest.raises(BadInput):
        variance_factor(0.0, 10, identity="spread")
