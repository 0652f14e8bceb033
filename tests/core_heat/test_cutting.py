"""Settings of a run found again, by the drive's record and by what was measured; no cuts from noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.arrays import Array
from stillroom.core.heat.cutting import Cut, by_change, by_drive

TIMES = np.arange(0.0, 5400.0)
AT = (1800.0, 3600.0)


def follows(goal: Array, tau: float, start: float) -> Array:
    value, keep = np.empty_like(goal), math.exp(-1.0 / tau)
    value[0] = start
    for i in range(1, goal.size):
        value[i] = goal[i - 1] + (value[i - 1] - goal[i - 1]) * keep
    return value


def correlated(rng: np.random.Generator, n: int, r: float, sd: float) -> Array:
    noise = np.empty(n)
    noise[0] = sd * rng.standard_normal()
    for i in range(1, n):
        noise[i] = r * noise[i - 1] + sd * math.sqrt(1.0 - r * r) * rng.standard_normal()
    return noise


def levels(*values: float, at: tuple[float, ...] = AT) -> Array:
    return np.array(values)[np.searchsorted(np.array(at), TIMES, side="right")]


def near(cuts: tuple[Cut, ...], expected: list[tuple[float, float]], within: float) -> None:
    assert [(each.first, each.last) for each in cuts] == [
        (pytest.approx(first, abs=within), pytest.approx(last, abs=within)) for first, last in expected
    ]


THREE = [(0.0, 1799.0), (1800.0, 3599.0), (3600.0, 5399.0)]


def test_a_plain_record() -> None:
    cuts = by_drive(TIMES, levels(0.6, 0.45, 0.3))
    near(cuts, THREE, 0.0)
    assert [each.value for each in cuts] == [0.6, 0.45, 0.3]


@pytest.mark.parametrize("count", [0.001, 0.01])
def test_noise_of_a_count_or_two_cuts_nothing(count: float) -> None:
    rng = np.random.default_rng(1)
    drive = levels(0.6, 0.45, 0.3) + count * rng.integers(-1, 2, TIMES.size)
    cuts = by_drive(TIMES, np.round(drive / count) * count)
    near(cuts, THREE, 3.0)
    assert [each.value for each in cuts] == pytest.approx([0.6, 0.45, 0.3], abs=1e-9)


def test_set_points_one_percent_apart_are_two() -> None:
    near(by_drive(TIMES, levels(0.43, 0.42, 0.41)), THREE, 0.0)


def test_ramps_belong_to_neither_and_slips_cut_nothing() -> None:
    drive = np.interp(TIMES, [1800.0, 1920.0, 3600.0, 3620.0], [0.6, 0.45, 0.45, 0.3])
    drive[700:702] = 0.0
    drive[900:960] = np.nan
    cuts = by_drive(TIMES, drive)
    near(cuts, [(0.0, 1803.0), (1917.0, 3602.0), (3618.0, 5399.0)], 4.0)
    assert [each.value for each in cuts] == pytest.approx([0.6, 0.45, 0.3], abs=0.001)


def test_a_slip_of_twenty_readings_joins_and_a_return_is_a_new_setting() -> None:
    drive = levels(0.6, 0.45, 0.6)
    drive[1000:1020] = 0.0
    cuts = by_drive(TIMES, drive)
    near(cuts, THREE, 0.0)
    assert [each.value for each in cuts] == [0.6, 0.45, 0.6]


def test_a_record_of_one_value_is_one_setting() -> None:
    near(by_drive(TIMES, np.full(TIMES.size, 12.0)), [(0.0, 5399.0)], 0.0)
    assert by_drive(TIMES, np.full(TIMES.size, np.nan)) == ()
    assert by_drive(np.array([0.0]), np.array([0.5])) == ()


def test_ten_hours_at_one_reading_a_second_are_cut_at_once() -> None:
    import time

    times = np.arange(36_000.0)
    drive = 0.3 + 0.05 * (times // 1800 % 7)
    begun = time.process_time()
    assert len(by_drive(times, drive)) == 20
    assert len(by_change(times, 20.0 * drive)) == 20
    assert time.process_time() - begun < 1.0


def test_steps_of_a_measured_speed() -> None:
    rng = np.random.default_rng(2)
    speed = follows(levels(20.0, 17.5, 14.0), 3.0, 20.0) + correlated(rng, TIMES.size, 0.9, 0.04)
    near(by_change(TIMES, speed), THREE, 6.0)
    assert all(each.value is None for each in by_change(TIMES, speed))


@pytest.mark.parametrize("tau", [None, 300.0])
@pytest.mark.parametrize("r", [0.0, 0.9, 0.98])
def test_noise_makes_no_cuts(tau: float | None, r: float) -> None:
    """60 logs of 90 minutes at each correlation: none is cut."""
    rng = np.random.default_rng(3)
    middle, sd = (20.0, 0.06) if tau is None else (310.0, 0.03)
    false = sum(
        len(by_change(TIMES, middle + correlated(rng, TIMES.size, r, sd), tau=tau)) != 1 for _ in range(60)
    )
    assert false == 0


def test_a_slow_drift_makes_no_cuts() -> None:
    rng = np.random.default_rng(4)
    drift = 0.6 * np.sin(TIMES / 1500.0)
    assert len(by_change(TIMES, 20.0 + 0.2 * drift + 0.02 * rng.standard_normal(TIMES.size))) == 1
    assert len(by_change(TIMES, 310.0 + drift + 0.02 * rng.standard_normal(TIMES.size), tau=300.0)) == 1


@pytest.mark.parametrize("tau", [180.0, 300.0, 480.0])
def test_steps_of_a_temperature(tau: float) -> None:
    """Warming up from cold, then two settings warmer by 1.2 and 2 K: cut where the setting changed."""
    for seed in range(10):
        rng = np.random.default_rng(seed)
        warm = follows(levels(12.0, 13.2, 15.2), tau, 2.0)
        read = np.round(300.0 + warm + correlated(rng, TIMES.size, 0.8, 0.02), 2)
        near(by_change(TIMES, read, tau=tau), THREE, 40.0)


def test_a_wrong_time_constant_still_cuts_in_time() -> None:
    warm = follows(levels(12.0, 13.2, 15.2), 300.0, 2.0)
    read = 300.0 + warm + 0.02 * np.random.default_rng(6).standard_normal(TIMES.size)
    for tau in (200.0, 420.0):
        near(by_change(TIMES, read, tau=tau), THREE, 60.0)


def test_a_change_within_the_resting_time_is_no_second_one() -> None:
    speed = levels(20.0, 17.5, 17.4)
    speed[1830:1850] = 19.0
    near(by_change(TIMES, speed), [(0.0, 1799.0), (1800.0, 5399.0)], 50.0)


def test_short_logs_are_one_setting() -> None:
    near(by_change(TIMES[:30], levels(20.0, 20.0, 20.0)[:30]), [(0.0, 29.0)], 0.0)
    assert by_change(TIMES[:2], TIMES[:2]) == ()
