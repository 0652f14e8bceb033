"""Clocks aligned by what two loggers both saw: offsets found again, honest uncertainties, and what can't be told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.arrays import Array
from stillroom.core.heat.clocks import SAME_CLOCK, Alignment, How, Series, align
from stillroom.core.heat.edges import kink_edges, step_edges

START = 1_000_000.0


def steps(times: Array, at: tuple[float, ...], levels: tuple[float, ...]) -> Array:
    """Levels that change at once."""
    return np.asarray(np.array(levels)[np.searchsorted(np.array(at), times, side="right")])


def logged(
    offset: float,
    *,
    every: float,
    at: tuple[float, ...],
    levels: tuple[float, ...],
    noise: float = 0.0,
    seed: int = 0,
    length: float = 3600.0,
    phase: float = 0.0,
) -> Series:
    """What a logger writes whose clock lacks `offset` seconds."""
    rng = np.random.default_rng(seed)
    true = np.arange(phase, length, every)
    values = steps(true, at, levels) + noise * rng.standard_normal(true.size)
    return Series(START + true - offset, values)


SPEED = {"at": (600.0, 1500.0, 2700.0), "levels": (30.0, 24.0, 18.0, 30.0)}


@pytest.mark.parametrize("offset", [0.0, 7.3, -95.0, 3600.0])
@pytest.mark.parametrize("every", [1.0, 2.0, 5.0])
def test_the_offset_is_found_again(offset: float, every: float) -> None:
    ours = logged(0.0, every=1.0, **SPEED, noise=0.05, seed=1)
    theirs = logged(offset, every=every, **SPEED, noise=0.05, seed=2, phase=0.37)
    found = align(ours, theirs)
    assert found.how is How.SHARED_EDGE
    assert found.edges == 3
    assert found.offset == pytest.approx(offset, abs=3.0 * found.u + 0.3)
    assert found.u < every


def test_its_uncertainty_is_honest() -> None:
    """Rectangular errors of the times of readings: 2 u holds in 90 % or more of 200 pairs of logs."""
    rng = np.random.default_rng(5)
    inside = 0
    for seed in range(200):
        offset = rng.uniform(-60.0, 60.0)
        ours = logged(0.0, every=2.0, **SPEED, noise=0.05, seed=seed, phase=rng.uniform(0.0, 2.0))
        theirs = logged(offset, every=5.0, **SPEED, noise=0.05, seed=seed + 999, phase=rng.uniform(0.0, 5.0))
        found = align(ours, theirs)
        assert found.edges == 3
        inside += abs(found.offset - offset) <= 2.0 * found.u
    assert inside >= 180


def test_heater_on_is_enough() -> None:
    ours = logged(0.0, every=1.0, at=(300.0,), levels=(0.0, 300.0), noise=0.4)
    theirs = logged(12.0, every=2.0, at=(300.0,), levels=(0.0, 12.1), noise=0.02)
    found = align(ours, theirs)
    assert (found.how, found.edges) == (How.SHARED_EDGE, 1)
    assert found.offset == pytest.approx(12.0, abs=1.5)
    assert found.pairs


def test_a_probe_follows_slowly_and_tells_within_some_seconds() -> None:
    """The block's temperature bends as the speed steps; the u of the bend covers its place."""
    tau, inside, us = 240.0, 0, []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        true = np.arange(0.0, 3600.0, 1.0)
        goal = steps(true, SPEED["at"], (12.0, 13.4, 15.2, 12.0))
        value = np.empty_like(goal)
        value[0], keep = 12.0, math.exp(-1.0 / tau)
        for i in range(1, goal.size):
            value[i] = goal[i - 1] + (value[i - 1] - goal[i - 1]) * keep
        ours = logged(0.0, every=1.0, **SPEED, noise=0.02, seed=seed)
        slow = Series(
            START + true - 41.0,
            310.0 + np.round(value + 0.02 * rng.standard_normal(true.size), 2),
            is_slow=True,
        )
        bends = slow.edges()
        # warmer as the speed falls: of opposite sign, so the speed is turned round
        found = align(Series(ours.times, -ours.values), slow)
        assert len(bends) == 3
        assert found.how is How.SHARED_EDGE
        inside += abs(found.offset - 41.0) <= 2.0 * found.u
        us.append(found.u)
    assert inside >= 54
    assert 0.5 < float(np.median(us)) < 15.0


def test_nothing_to_be_seen_is_said() -> None:
    flat = logged(0.0, every=1.0, at=(1e9,), levels=(30.0, 30.0), noise=0.1)
    found = align(logged(0.0, every=1.0, **SPEED), flat)
    assert found.how is How.NOT_ALIGNED
    assert "no sudden change" in found.why
    assert math.isinf(found.u)
    assert not found.pairs


def test_a_change_of_the_other_sign_or_too_far_away_is_another() -> None:
    down = logged(0.0, every=1.0, at=(900.0,), levels=(30.0, 20.0))
    up = logged(0.0, every=1.0, at=(900.0,), levels=(20.0, 30.0))
    assert align(down, up).how is How.NOT_ALIGNED
    far = logged(9000.0, every=1.0, at=(900.0,), levels=(30.0, 20.0))
    assert "none that the other saw" in align(down, far).why


def test_one_change_that_fits_twice_aligns_nothing() -> None:
    """Two equal steps down in one logger, one in the other: which of them was it?"""
    two = logged(0.0, every=1.0, at=(900.0, 1800.0), levels=(30.0, 25.0, 20.0))
    one = logged(0.0, every=1.0, at=(900.0,), levels=(30.0, 25.0), length=1500.0)
    found = align(two, one)
    assert found.how is How.NOT_ALIGNED
    assert "more than one offset" in found.why


def test_a_stated_offset_holds_and_edges_are_held_against_it() -> None:
    ours, theirs = logged(0.0, every=1.0, **SPEED), logged(8.0, every=1.0, **SPEED)
    right = align(ours, theirs, stated=(8.0, 0.5))
    assert (right.how, right.offset, right.u) == (How.STATED, 8.0, 0.5)
    assert right.found == pytest.approx(8.0, abs=0.6)
    assert right.pairs
    wrong = align(ours, theirs, stated=(0.0, 0.5))
    assert wrong.offset == 0.0
    assert wrong.contradiction == pytest.approx(7.0, abs=1.0)
    assert not wrong.pairs
    alone = align(ours, logged(0.0, every=1.0, at=(1e9,), levels=(30.0, 30.0)), stated=(3.0, 0.5))
    assert (alone.how, alone.found) == (How.STATED, None)


def test_one_clock_has_no_skew() -> None:
    assert SAME_CLOCK.pairs
    assert Alignment(1.0, 1.99, How.STATED).pairs
    assert not Alignment(1.0, 2.01, How.STATED).pairs


def test_noise_has_no_edges() -> None:
    rng = np.random.default_rng(3)
    times = np.arange(0.0, 3600.0)
    for _ in range(20):
        noise = np.zeros(times.size)
        for i in range(1, times.size):
            noise[i] = 0.9 * noise[i - 1] + 0.02 * rng.standard_normal()
        assert step_edges(times, 20.0 + noise) == ()
        assert kink_edges(times, 310.0 + noise + 0.0001 * times) == ()
    assert step_edges(times, np.full(times.size, 5.0)) == ()
    assert step_edges(times[:5], times[:5]) == ()
    assert kink_edges(times[:5], times[:5]) == ()


def test_a_ramp_of_some_seconds_is_placed_at_its_middle() -> None:
    times = np.arange(0.0, 200.0)
    (edge,) = step_edges(times, np.interp(times, [100.0, 108.0], [10.0, 20.0]))
    assert edge.time == pytest.approx(104.0, abs=0.6)
    assert edge.size == pytest.approx(10.0)
