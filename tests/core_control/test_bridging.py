"""Bridges between eras of a rig: closed forms, what cancels, and coverage by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.bridging import Bridge, BridgeRun, bridges_to, runs_wanted
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import PooledSpread, Spreads
from stillroom.errors import BadInput

M = 500
SD = 0.005


def result(
    mounting: str, value: float, *, sample: str = "", noise: float = 0.0, **shared: float
) -> MountingResult:
    """A mounting with relative standard deviations of reading noise and of shared sources."""
    trials = value * (1.0 + sum((u * normal_draws(name, M) for name, u in shared.items()), np.zeros(M)))
    own = value * noise * normal_draws(f"noise {mounting}", M)
    loadings = {name: value * u for name, u in shared.items()}
    return MountingResult(sample or mounting, mounting, value, trials, own, loadings)


def run(sample: str, era: int, value: float, number: int = 1, **more: float) -> BridgeRun:
    return BridgeRun(sample, era, result(f"{sample}-{era}-{number}", value, sample=sample, **more))  # type: ignore[arg-type]


def only(runs: list[BridgeRun], era: int = 1, target: int = 2) -> Bridge:
    return bridges_to(target, runs, SD, "chamber, airflow")[era]


def test_one_sample_in_two_eras_is_the_ratio_of_its_means() -> None:
    runs = [run("ref", 1, 10.0, 1), run("ref", 1, 10.2, 2), run("ref", 2, 9.7, 1), run("ref", 2, 9.9, 2)]
    bridge = only(runs)
    expected = math.log(9.7 * 9.9 / (10.0 * 10.2)) / 2.0
    assert math.log(bridge.ratio) == pytest.approx(expected)
    # Pooled variance: 4 degrees at 0.5 %, and the squares within the two eras with one degree each.
    squares = math.log(10.2 / 10.0) ** 2 / 2.0 + math.log(9.9 / 9.7) ** 2 / 2.0
    pooled = (4 * SD**2 + squares) / 6.0
    assert bridge.dof == 6.0
    assert bridge.u == pytest.approx(math.sqrt(pooled * (1 / 2 + 1 / 2)))
    assert bridge.before == ("ref-1-1", "ref-1-2")
    assert bridge.after == ("ref-2-1", "ref-2-2")
    assert bridge.samples == ("ref",)


def test_one_mounting_each_rests_on_the_labs_spread_alone() -> None:
    bridge = only([run("ref", 1, 10.0), run("ref", 2, 9.0)])
    assert bridge.ratio == pytest.approx(0.9)
    assert (bridge.u, bridge.dof) == pytest.approx((SD * math.sqrt(2.0), 4.0))
    low, high = bridge.interval
    reach = 2.776445 * SD * math.sqrt(2.0)  # t(0.975; 4) = 2.776445, any table
    assert (low, high) == pytest.approx((0.9 * math.exp(-reach), 0.9 * math.exp(reach)), rel=1e-6)


def test_several_samples_pool_by_their_numbers_of_mountings() -> None:
    """Two-way layout: each sample's log ratio weighs with 1/(1/a + 1/b)."""
    runs = [run("ref", 1, 10.0), run("ref", 2, 9.0), run("fan", 1, 20.0, 1), run("fan", 1, 20.4, 2),
            run("fan", 2, 18.6)]  # fmt: skip
    bridge = only(runs)
    ratios = (math.log(0.9), math.log(18.6) - math.log(20.0 * 20.4) / 2.0)
    weights = (1 / 2, 1 / (1 / 2 + 1))
    expected = sum(w * r for w, r in zip(weights, ratios, strict=True)) / sum(weights)
    assert math.log(bridge.ratio) == pytest.approx(expected)


def test_an_era_without_a_sample_in_common_is_reached_through_those_between() -> None:
    runs = [run("a", 1, 10.0), run("a", 2, 9.0), run("b", 2, 20.0), run("b", 3, 22.0), run("c", 4, 5.0)]
    found = bridges_to(3, runs, SD, "chamber")
    assert set(found) == {1, 2}
    assert found[2].ratio == pytest.approx(1.1)
    assert found[1].ratio == pytest.approx(0.9 * 1.1)
    assert found[1].u == pytest.approx(SD * 2.0)  # four mountings
    assert found[1].before == ("a-1-1",)
    assert found[1].after == ("b-3-1",)


def test_without_a_sample_in_common_there_is_no_bridge() -> None:
    assert bridges_to(2, [run("a", 1, 10.0), run("b", 2, 9.0)], SD, "chamber") == {}
    assert bridges_to(2, [], SD, "chamber") == {}


def test_readings_are_never_undercut() -> None:
    bridge = only([run("ref", 1, 10.0, noise=0.02), run("ref", 2, 9.0, noise=0.02)])
    assert bridge.u == pytest.approx(0.02 * math.sqrt(2.0), rel=0.1)


def test_samples_that_disagree_are_told() -> None:
    near = [run("a", 1, 10.0), run("a", 2, 9.0), run("b", 1, 20.0), run("b", 2, 18.05)]
    far = [run("a", 1, 10.0), run("a", 2, 9.0), run("b", 1, 20.0), run("b", 2, 20.0)]
    assert only(near).agree
    assert not only(far).agree
    assert only(far).u > 3.0 * only(near).u


def test_what_the_eras_share_cancels_and_a_swapped_instrument_is_taken_over() -> None:
    runs = [run("ref", 1, 10.0, old_gauge=0.03, nozzle=0.01), run("ref", 2, 9.0, new_gauge=0.02, nozzle=0.01)]
    bridge = only(runs)
    assert bridge.loadings == pytest.approx({"old_gauge": -0.03, "new_gauge": 0.02, "nozzle": 0.0})
    other = result("other", 20.0, old_gauge=0.03, nozzle=0.01)
    carried = bridge.carry(other)
    assert carried.value == pytest.approx(18.0)
    assert carried.loadings["old_gauge"] == pytest.approx(0.0, abs=1e-12)
    assert carried.loadings["new_gauge"] == pytest.approx(18.0 * 0.02)
    assert carried.loadings["nozzle"] == pytest.approx(18.0 * 0.01)
    assert carried.loadings[bridge.identity] == pytest.approx(18.0 * bridge.u)
    without = carried.shared_trials / bridge.own_trials()
    assert np.corrcoef(without, normal_draws("new_gauge", M))[0, 1] > 0.85  # √(2²/(2² + 1²)) = 0.89
    assert abs(np.corrcoef(without, normal_draws("old_gauge", M))[0, 1]) < 0.15


def test_two_fans_that_one_bridge_carries_keep_their_difference() -> None:
    """The bridge's own error is one source for all: it cancels from the quotient of two carried fans."""
    bridge = only([run("ref", 1, 10.0), run("ref", 2, 9.0)])
    one, other = (bridge.carry(result(name, value)) for name, value in (("a", 20.0), ("b", 22.0)))
    assert one.shared_trials.std() / one.value > 0.005
    assert one.shared_trials / other.shared_trials == pytest.approx(20.0 / 22.0)
    again = bridges_to(2, [run("ref", 1, 10.0), run("ref", 2, 9.0)], SD, "chamber, airflow")[1]
    assert (again.own_trials() == bridge.own_trials()).all()


def test_a_value_that_is_not_above_zero_is_refused() -> None:
    with pytest.raises(BadInput):
        bridges_to(2, [run("a", 1, 0.0), run("a", 2, 1.0)], SD, "chamber")
    with pytest.raises(BadInput):
        bridges_to(2, [run("a", 1, 1.0), run("a", 2, 1.0)], 0.0, "chamber")


def test_how_many_runs_a_bridge_wants() -> None:
    assert runs_wanted(1, SD, 0.025) == 2
    assert runs_wanted(3, 0.012, 0.025) > runs_wanted(3, SD, 0.025)
    assert runs_wanted(1, 0.1, 0.001) == 10


# --- coverage ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("before", "after", "samples"), [(1, 1, 1), (3, 2, 1), (2, 2, 3)])
def test_a_fan_brought_over_covers_what_the_new_era_would_have_read(
    before: int, after: int, samples: int
) -> None:
    """95 % intervals of old fan less new fan hold the true difference in about 95 % of 400 invented labs."""
    rng = np.random.default_rng(100 * before + 10 * after + samples)
    sd = 0.006  # the lab believes 0.5 %, and learns
    spread = PooledSpread.agreed(0.0055, 30.0)
    none = PooledSpread.agreed(1e-9, 1000.0)
    inside, widths, labs = 0, [], 400
    for lab in range(labs):
        step = math.exp(rng.normal(0.0, 0.03))
        runs = []
        for sample in range(samples):
            true = rng.uniform(8.0, 30.0)
            for era, count in ((1, before), (2, after)):
                for number in range(count):
                    read = true * (step if era == 2 else 1.0) * (1.0 + sd * rng.standard_normal())
                    runs.append(run(f"{lab}/{sample}", era, read, number))
        bridge = only(runs)
        old, new = 20.0, 21.0
        trials = []
        for name, value, carried in (("old", old, True), ("new", new * step, False)):
            read = value * (1.0 + sd * rng.standard_normal())
            mounting = result(f"{lab}/{name}", read)
            fan = combine_mountings([bridge.carry(mounting) if carried else mounting], Spreads(spread, none))
            trials.append(fan.trials)
        low, high = (float(each) for each in coverage_interval(trials[0] - trials[1]))
        inside += low <= (old - new) * step <= high
        widths.append((high - low) / 2.0 / new)
    assert 0.92 <= inside / labs <= 0.985
    assert np.median(widths) < 0.04
