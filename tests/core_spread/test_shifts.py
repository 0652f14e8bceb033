"""Bridges by a difference, against the two-way layout worked out by hand and a least-squares library."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from stillroom.core.shift import ShiftRun, shifts_to
from stillroom.errors import BadInput


def run(sample: str, era: int, value: float, number: int = 1, **loadings: float) -> ShiftRun:
    return ShiftRun(sample, era, f"{sample}/{era}/{number}", value, 0.01, loadings)


def test_one_sample_in_two_eras_is_the_difference_of_the_means() -> None:
    runs = [run("a", 1, 12.0), run("a", 1, 12.2, 2), run("a", 2, 11.4), run("a", 2, 11.2, 2)]
    found = shifts_to(2, runs, 0.12, "loop")
    assert found.keys() == {1}
    assert found[1].change == pytest.approx(11.3 - 12.1)
    assert found[1].interval[0] < -0.8 < found[1].interval[1]
    assert found[1].before == ("a/1/1", "a/1/2")


def test_three_eras_and_two_samples_as_a_library_of_least_squares_has_it() -> None:
    runs = [run("a", 1, 12.0), run("a", 2, 11.5), run("b", 2, 9.1), run("b", 3, 9.9), run("b", 3, 9.7, 2)]
    # columns: sample a, sample b, era 1, era 2; target is era 3 (statsmodels OLS)
    design = np.array([[1, 0, 1, 0], [1, 0, 0, 1], [0, 1, 0, 1], [0, 1, 0, 0], [0, 1, 0, 0]], dtype=float)
    fitted = sm.OLS([each.value for each in runs], design).fit().params
    found = shifts_to(3, runs, 0.12, "loop")
    assert found[1].change == pytest.approx(-fitted[2])
    assert found[2].change == pytest.approx(-fitted[3])


def test_nothing_leads_to_an_era_without_a_sample_in_common() -> None:
    assert shifts_to(2, [run("a", 1, 12.0), run("b", 2, 11.0)], 0.12, "loop") == {}


def test_errors_that_are_the_same_before_and_after_cancel_in_the_difference() -> None:
    runs = [run("a", 1, 12.0, probe=0.2), run("a", 2, 11.0, probe=0.2, heater=0.05)]
    found = shifts_to(2, runs, 0.12, "loop")[1]
    assert found.loadings["probe"] == pytest.approx(0.0)
    assert found.loadings["heater"] == pytest.approx(0.05)


def test_a_curve_that_is_carried_reads_as_the_new_era_with_its_instruments() -> None:
    old = np.array([14.0, 12.0, 10.0])
    found = shifts_to(2, [run("a", 1, 12.0, before=0.3), run("a", 2, 11.0, after=0.1)], 0.12, "loop")[1]
    central, sources, effects = found.carry(old, ("before",), np.full((1, 3), 0.3))
    assert central == pytest.approx(old - 1.0)
    told = dict(zip(sources, effects[:, 0], strict=True))
    assert told["before"] == pytest.approx(0.0)  # the old era's probe has no say any more
    assert told["after"] == pytest.approx(0.1)
    assert told[found.identity] > found.u


def test_the_interval_holds_the_true_difference_as_often_as_it_says() -> None:
    inside, random = 0, np.random.default_rng(7)
    for _ in range(300):
        draws = 0.12 * random.standard_normal(4)
        values = (12.0 + draws[0], 12.0 + draws[1], 11.3 + draws[2], 11.3 + draws[3])
        runs = [run("a", 1 + place // 2, value, place) for place, value in enumerate(values)]
        low, high = shifts_to(2, runs, 0.12, "loop")[1].interval
        inside += low <= -0.7 <= high
    assert 0.92 <= inside / 300 <= 0.995


def test_samples_that_disagree_are_told() -> None:
    apart = [run("a", 1, 12.0), run("a", 2, 11.0), run("b", 1, 12.0), run("b", 2, 13.5)]
    assert not shifts_to(2, apart, 0.12, "loop")[1].agree


def test_a_spread_of_nothing_is_refused() -> None:
    with pytest.raises(BadInput, match="spread"):
        shifts_to(2, [run("a", 1, 12.0), run("a", 2, 11.0)], 0.0, "loop")
