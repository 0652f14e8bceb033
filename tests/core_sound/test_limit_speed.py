"""The noise-limited speed of curves drawn by hand, and of a fan whose noise inverts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from level_truth import HIGH, INVERTED, LOW, dwells, ramp

from stillroom.core.arrays import Array
from stillroom.core.sound.level_curve import fit_levels
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.limit import LimitRule, LimitSpeed, Reached, limit_speed, measured_around
from stillroom.core.sound.placing import APART, next_speed
from stillroom.errors import BadInput, OutOfRange

SPEEDS = np.array([10.0, 12.0, 14.0, 16.0, 18.0, 20.0])
RISING = np.array([20.0, 22.0, 24.0, 26.0, 28.0, 30.0])
HUMP = np.array([20.0, 24.0, 28.0, 24.0, 22.0, 30.0])


def limit(rows: Array, level: float, rule: LimitRule = LimitRule.HIGHEST, **options: object) -> LimitSpeed:
    return limit_speed(np.atleast_2d(rows), SPEEDS, level, rule, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("rule", list(LimitRule))
def test_one_crossing_on_a_straight_line(rule: LimitRule) -> None:
    found = limit(RISING, 25.0, rule)
    assert found.speeds.tolist() == [15.0]
    assert found.strict[0] == found.highest[0] == 15.0
    assert found.reached is Reached.AT_LIMIT
    assert (found.avoid, found.unique, found.rules_differ, found.at_least) == ((), True, False, False)
    assert (found.level_at_bottom, found.level_at_top) == (20.0, 30.0)


def test_a_hump_gives_both_speeds_and_the_band_between() -> None:
    found = limit(HUMP, 26.0)
    assert found.speeds[0] == pytest.approx(19.0)  # 18 + 2 · 4/8
    assert found.strict[0] == pytest.approx(13.0)
    assert found.avoid == (pytest.approx((13.0, 15.0)),)
    assert found.rules_differ
    assert not found.unique
    strict = limit(HUMP, 26.0, LimitRule.NEVER_EXCEEDED)
    assert strict.speeds[0] == pytest.approx(13.0)
    assert strict.avoid == found.avoid


def test_at_the_limit_counts_as_kept() -> None:
    assert limit(RISING, 24.0).speeds[0] == 14.0
    flat = np.full(6, 25.0)
    assert limit(flat, 25.0).reached is Reached.TOPS_OUT
    assert limit(flat, 24.999).reached is Reached.NOT_SO_QUIET


def test_a_fan_that_never_gets_there_tops_out() -> None:
    found = limit(RISING, 31.0)
    assert found.reached is Reached.TOPS_OUT
    assert found.speeds[0] == 20.0
    assert found.tops_out.tolist() == [True]
    humped = np.array([20.0, 33.0, 24.0, 26.0, 28.0, 30.0])
    tops = limit(humped, 31.0)
    assert tops.reached is Reached.TOPS_OUT
    assert tops.avoid == (pytest.approx((10 + 2 * 11 / 13, 12 + 2 * 2 / 9)),)
    strict = limit(humped, 31.0, LimitRule.NEVER_EXCEEDED)
    assert strict.reached is Reached.AT_LIMIT
    assert strict.tops_out.tolist() == [False]


def test_a_fan_that_is_too_loud_at_its_lowest_speed() -> None:
    found = limit(RISING, 19.0)
    assert found.reached is Reached.NOT_SO_QUIET
    assert found.too_loud.tolist() == [True]
    assert found.speeds[0] == 10.0
    assert found.avoid == ()


def test_loud_at_the_bottom_only() -> None:
    falling = np.array([27.0, 23.0, 22.0, 24.0, 28.0, 30.0])
    found = limit(falling, 25.0)
    assert found.reached is Reached.AT_LIMIT
    assert found.speeds[0] == pytest.approx(16.5)
    assert found.avoid == (pytest.approx((10.0, 11.0)),)
    strict = limit(falling, 25.0, LimitRule.NEVER_EXCEEDED)
    assert strict.reached is Reached.NOT_SO_QUIET
    assert strict.speeds[0] == 10.0


def test_each_row_has_its_own() -> None:
    rows = np.array([HUMP, RISING, RISING + 20.0, RISING - 20.0, HUMP])
    found = limit(rows, 26.0, sources=1)
    assert found.speeds == pytest.approx([19.0, 16.0, 10.0, 20.0, 19.0])
    assert found.strict == pytest.approx([13.0, 16.0, 10.0, 20.0, 13.0])
    assert found.too_loud.tolist() == [False, False, True, False, False]
    assert found.tops_out.tolist() == [False, False, False, True, False]
    assert found.ambiguous == pytest.approx(1 / 3)  # of the three trials; the row moved by a source is none


def test_by_brute_force_on_a_fine_grid() -> None:
    draw = np.random.default_rng(1)
    rows = 25.0 + np.cumsum(draw.standard_normal((300, 6)), axis=1)
    found = limit(rows, 25.5)
    fine = np.linspace(10.0, 20.0, 100_001)
    for row, highest, strict in zip(rows, found.highest, found.strict, strict=True):
        keeps = np.interp(fine, SPEEDS, row) <= 25.5
        expected = fine[np.flatnonzero(keeps)[-1]] if keeps.any() else 10.0
        assert highest == pytest.approx(expected, abs=2e-4)
        first = 20.0 if keeps.all() else fine[max(int(np.argmin(keeps)) - 1, 0)]
        assert strict == pytest.approx(first, abs=2e-4)


def test_a_higher_limit_never_gives_a_lower_speed() -> None:
    draw = np.random.default_rng(2)
    rows = 25.0 + np.cumsum(draw.standard_normal((200, 6)), axis=1)
    limits = np.linspace(20.0, 30.0, 41)
    for rule in LimitRule:
        speeds = np.array([limit(rows, each, rule).speeds for each in limits])
        assert (np.diff(speeds, axis=0) >= 0.0).all()


def test_a_limit_that_lies_where_there_are_bounds_is_a_least() -> None:
    bound = np.array([True, True, True, False, False, False])
    assert limit(RISING, 23.0, bound=bound).at_least
    assert limit(RISING, 25.0, bound=bound).at_least  # next to one
    assert not limit(RISING, 27.0, bound=bound).at_least
    assert limit(RISING, 19.0, bound=bound).at_least  # whether it runs so quiet is not known
    assert not limit(RISING, 31.0, bound=bound).at_least


def point(rpm: float, level: float, *, is_bound: bool = False, mounting: str = "") -> LevelPoint:
    return LevelPoint(rpm / 60.0, 0.0, level, 0.1, is_bound, False, f"{mounting}{rpm}", mounting)


def test_the_bracket_is_the_widest_of_the_mountings() -> None:
    def bracket(points: list[LevelPoint], speed: float) -> float | None:
        around = measured_around(points, speed)
        return abs(around[1].level - around[0].level) if around else None

    points = [point(900, 20.0), point(1000, 23.5), point(1300, 30.0), point(950, 10.0, is_bound=True)]
    assert bracket(points, 960 / 60) == pytest.approx(3.5)
    assert bracket(points, 1000 / 60) == 0.0  # measured there
    assert bracket(points, 1400 / 60) is None
    two = [*points, point(940, 21.0, mounting="b"), point(970, 22.0, mounting="b")]
    assert bracket(two, 960 / 60) == pytest.approx(3.5)
    assert bracket(two[4:], 960 / 60) == pytest.approx(1.0)
    assert bracket([], 10.0) is None
    found = limit(RISING, 25.0, points=[point(840, 24.0), point(960, 26.0)])
    assert found.bracket == pytest.approx(2.0)
    assert found.between == pytest.approx((14.0, 16.0))


def test_the_inverted_fan_gets_both_speeds_and_the_band() -> None:
    draw = np.random.default_rng(3)
    points = [*dwells(INVERTED, np.linspace(LOW, HIGH, 12), draw), *ramp(INVERTED, draw)]
    points += ramp(INVERTED, draw, name="down")
    curve = fit_levels(points, identity="m", sources={"calibrator/c": 0.2}, trials=1000)
    level = 26.0
    low, high = INVERTED.limit_rpm(level, strict=True), INVERTED.limit_rpm(level)
    assert high > 1.2 * low  # the truth meets the limit twice, far apart
    found = limit_speed(curve.rows(), curve.speeds, level, bound=curve.bound, points=curve.points, sources=1)
    assert found.speeds[0] * 60 == pytest.approx(high, rel=0.01)
    assert found.strict[0] * 60 == pytest.approx(low, rel=0.01)
    assert found.rules_differ
    assert found.ambiguous > 0.9
    assert not found.unique
    start, end = found.avoid[0]
    assert start * 60 == pytest.approx(low, rel=0.01)
    assert 1150 < end * 60 < high
    assert INVERTED.level(end * 60) == pytest.approx(level, abs=0.4)
    assert found.bracket is not None
    assert found.bracket < 2.0


@pytest.mark.parametrize(
    ("rows", "speeds", "expected"),
    [
        (RISING[None, :5], SPEEDS, "5"),
        (RISING, SPEEDS, "two or more speeds"),
        (RISING[None, :1], SPEEDS[:1], "two or more speeds"),
    ],
)
def test_shapes_that_do_not_fit(rows: Array, speeds: Array, expected: str) -> None:
    with pytest.raises(BadInput, match=expected):
        limit_speed(rows, speeds, 25.0)


def test_no_level_and_no_limit() -> None:
    with pytest.raises(OutOfRange, match="level"):
        limit(np.array([20.0, 22.0, np.nan, 26.0, 28.0, 30.0]), 25.0)
    with pytest.raises(OutOfRange, match="noise limit"):
        limit(RISING, float("nan"))


def test_the_next_speed_lies_where_it_is_least_known() -> None:
    draw = np.random.default_rng(5)
    points = dwells(INVERTED, np.linspace(LOW, HIGH, 8), draw)
    curve = fit_levels(points, identity="m", sources={}, trials=1000)
    found = next_speed(curve, [26.0])
    assert found is not None
    keeps = np.mean(curve.noise <= (26.0 - curve.central), axis=0)
    gaps = np.abs(curve.speeds[:, None] - np.array([each.speed for each in points])).min(axis=1)
    free = gaps >= APART
    assert gaps[np.argmin(np.abs(curve.speeds - found.speed))] >= 25.0 / 60.0
    assert abs(found.probability - 0.5) == pytest.approx(np.abs(keeps[free] - 0.5).min())
    assert next_speed(curve, [60.0]) is None  # no doubt anywhere
    both = next_speed(curve, [60.0, 26.0])
    assert both == found
    assert next_speed(curve, []) is None


def test_no_dwell_is_asked_for_where_the_chain_hears_nothing() -> None:
    draw = np.random.default_rng(7)
    points = dwells(INVERTED, np.linspace(LOW, HIGH, 12), draw)
    hidden = [replace(each, level=22.0, is_bound=True) if each.level < 22.0 else each for each in points]
    curve = fit_levels(hidden, identity="m", sources={}, trials=1000)
    for limit in (21.9, 22.0, 22.1, 24.0):
        found = next_speed(curve, [limit])
        assert found is None or found.speed >= curve.speeds[curve.bound][-1]
    assert next_speed(curve, [21.0]) is None


def test_dwells_end_when_there_is_no_more_doubt() -> None:
    draw = np.random.default_rng(6)
    points = dwells(INVERTED, np.linspace(LOW, HIGH, 8), draw)
    placed = []
    while len(placed) < 20:
        found = next_speed(fit_levels(points, identity="m", sources={}, trials=400), [30.0])
        if found is None:
            break
        placed.append(found.speed)
        points += dwells(INVERTED, np.array([found.speed * 60]), draw)
    assert 2 <= len(placed) < 15
