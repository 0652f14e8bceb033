"""Opened doors found in the air going in; drifts and noise are none."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.arrays import Array
from stillroom.core.heat.gusts import air_gusts

TIMES = np.arange(0.0, 5400.0, 4.0)


def room(seed: int, r: float = 0.9) -> Array:
    rng = np.random.default_rng(seed)
    noise = np.empty(TIMES.size)
    noise[0] = 0.0
    for i in range(1, TIMES.size):
        noise[i] = r * noise[i - 1] + 0.02 * rng.standard_normal()
    return 296.0 + noise + 0.4 * np.sin(TIMES / 2000.0)


def door(depth: float, at: float, length: float = 90.0) -> Array:
    """Cold comes in for a while, and the probes forget it within a minute."""
    inside = (at <= TIMES) & (at + length > TIMES)
    after = at + length <= TIMES
    return depth * (inside + after * np.exp(-(TIMES - at - length) / 40.0))


@pytest.mark.parametrize("depth", [-1.8, -0.5, 0.8])
def test_an_opened_door_is_found_with_its_depth(depth: float) -> None:
    for seed in range(10):
        (gust,) = air_gusts(TIMES, room(seed) + door(depth, 1500.0))
        assert gust.first == pytest.approx(1500.0, abs=12.0)
        assert 60.0 < gust.last - gust.first < 240.0
        assert gust.depth == pytest.approx(depth, abs=0.25)


def test_two_doors_are_two() -> None:
    assert len(air_gusts(TIMES, room(1) + door(-1.5, 900.0) + door(-1.0, 3600.0))) == 2


def test_a_room_without_doors_has_none() -> None:
    assert sum(len(air_gusts(TIMES, room(seed, r))) for seed in range(20) for r in (0.0, 0.9)) == 0


def test_a_step_or_a_drift_of_the_room_is_no_gust() -> None:
    assert air_gusts(TIMES, room(2) + np.where(TIMES > 2700.0, 1.0, 0.0)) == ()
    assert air_gusts(TIMES, room(3) + 1.5 * TIMES / TIMES[-1]) == ()


def test_gaps_and_short_records() -> None:
    air = room(4) + door(-1.5, 1500.0)
    air[100:200] = np.nan
    assert len(air_gusts(TIMES, air)) == 1
    assert air_gusts(TIMES[:100], air[:100]) == ()
    assert air_gusts(TIMES, np.full(TIMES.size, np.nan)) == ()
