"""Does the interval of a noise-limited speed hold the truth as often as it says? On random invented fans.

The truth is a smooth growth with the speed, and tones that meet a resonance. Nominal coverage: 95 %.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from level_truth import HIGH, LOW, TrueFan, dwells, ramp, random_fan

from stillroom.core.arrays import Array
from stillroom.core.intervals import coverage_interval
from stillroom.core.sound.level_curve import LevelCurve, fit_levels
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.limit import limit_speed
from stillroom.core.sound.placing import next_speed

TRIALS = 400
APART = 1.03


@dataclass(frozen=True)
class Outcome:
    held: Array
    half_width: Array  # relative
    error: Array  # relative
    unique: Array  # by the truth: both rules within 3 %
    told_unique: Array

    @property
    def coverage(self) -> float:
        return float(self.held.mean())


def fit(points: list[LevelPoint], name: str) -> LevelCurve:
    return fit_levels(points, identity=name, sources={}, trials=TRIALS)


def outcome(measure: Callable[[TrueFan, float, np.random.Generator, str], LevelCurve], fans: int) -> Outcome:
    draw = np.random.default_rng(20260101)
    rows = []
    for number in range(fans):
        fan = random_fan(draw)
        limit = float(fan.level(draw.uniform(800.0, 1700.0)))
        true = fan.limit_rpm(limit)
        curve = measure(fan, limit, draw, f"fan {number}")
        found = limit_speed(curve.rows(), curve.speeds, limit)
        low, high = (float(each) * 60 for each in coverage_interval(found.speeds[1:]))
        unique = true <= APART * fan.limit_rpm(limit, strict=True)
        error = abs(found.speeds[0] * 60 / true - 1)
        rows.append((low <= true <= high, (high - low) / 2 / true, error, unique, found.unique))
    columns = np.array(rows, dtype=np.float64).T
    return Outcome(columns[0], columns[1], columns[2], columns[3] > 0, columns[4] > 0)


def even(count: int) -> Callable[[TrueFan, float, np.random.Generator, str], LevelCurve]:
    def measure(fan: TrueFan, limit: float, draw: np.random.Generator, name: str) -> LevelCurve:
        return fit(dwells(fan, np.linspace(LOW, HIGH, count), draw), name)

    return measure


def eight_and_four(fan: TrueFan, limit: float, draw: np.random.Generator, name: str) -> LevelCurve:
    points = dwells(fan, np.linspace(LOW, HIGH, 8), draw)
    for _ in range(4):
        curve = fit(points, name)
        place = next_speed(curve, [limit])
        if place is None:
            return curve
        points += dwells(fan, np.array([place.speed * 60]), draw)
    return fit(points, name)


def one_ramp(fan: TrueFan, limit: float, draw: np.random.Generator, name: str) -> LevelCurve:
    return fit(ramp(fan, draw, sd=0.6, step=15.0), name)


def dwells_and_ramps(fan: TrueFan, limit: float, draw: np.random.Generator, name: str) -> LevelCurve:
    points = dwells(fan, np.linspace(LOW, HIGH, 12), draw)
    return fit([*points, *ramp(fan, draw), *ramp(fan, draw, name="down")], name)


@pytest.mark.slow
def test_twelve_even_dwells() -> None:
    found = outcome(even(12), 120)
    assert found.coverage >= 0.92
    assert np.median(found.half_width) < 0.05


@pytest.mark.slow
def test_eight_dwells_and_four_where_they_tell_most() -> None:
    found = outcome(eight_and_four, 100)
    assert found.coverage >= 0.92
    assert np.median(found.half_width) <= 0.02
    assert np.median(found.error[found.unique]) < 0.01


@pytest.mark.slow
def test_a_ramp_alone() -> None:
    found = outcome(one_ramp, 60)
    assert found.coverage >= 0.90
    assert np.median(found.half_width) < 0.032
    assert np.median(found.error[found.unique]) < 0.01


@pytest.mark.slow
def test_dwells_and_ramps_both_ways() -> None:
    found = outcome(dwells_and_ramps, 50)
    assert found.coverage >= 0.92
    assert np.median(found.half_width) <= 0.02
    assert np.median(found.error[found.unique]) < 0.005
    assert np.mean(found.told_unique[found.unique]) > 0.85
    assert np.mean(found.told_unique[~found.unique]) < 0.25


def test_straight_lines_promise_what_they_do_not_hold() -> None:
    """The contrast: lines joined through the same dwells, whose trials know of the dwells' own errors only."""
    draw = np.random.default_rng(5)
    held = []
    for _ in range(200):
        for count in (8, 12):
            fan = random_fan(draw)
            limit = float(fan.level(draw.uniform(800.0, 1700.0)))
            rpm = np.linspace(LOW, HIGH, count)
            read = fan.level(rpm) + 0.15 * draw.standard_normal(count)
            found = limit_speed(read + 0.15 * draw.standard_normal((TRIALS, count)), rpm, limit)
            low, high = coverage_interval(found.speeds)
            held.append(low <= fan.limit_rpm(limit) <= high)
    assert 0.55 < np.mean(held) < 0.78
