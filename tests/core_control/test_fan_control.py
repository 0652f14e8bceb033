"""How a fan answers its control, held against the specification, exact binomial bounds and cases by hand."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from stillroom.core.arrays import Array
from stillroom.core.control.control_mounting import Behaviour, How, Threshold
from stillroom.core.control.inrush import inrush_of, peak_told
from stillroom.core.control.linearity import greatest_departure
from stillroom.core.control.response import (
    Leg,
    behaviour,
    falls_back,
    full_speed,
    hysteresis,
    joined,
    legs,
    lowest_running,
    slowest_before,
    start_threshold,
    stop_threshold,
    without_open_end,
)
from stillroom.core.control.staircase import resolution_of, snapped, steps_of
from stillroom.core.control.starts import Attempt, proven_share, start_counts, start_of, threshold_of
from stillroom.core.standards import pwm_fans_4_wire as spec
from stillroom.errors import NotPossible, OutOfRange

FIGURES = {
    each["id"]: each
    for each in json.loads(
        (Path(__file__).parents[1] / "reference" / "fans_4_wire.json").read_text(encoding="utf-8")
    )
}
"""4-Wire PWM Controlled Fans Specification, September 2005, revision 1.3, with the page beside each."""


@pytest.mark.parametrize(
    ("number", "found"),
    [
        ("C099", [spec.PWM_FREQUENCY.low / 1e3, spec.PWM_FREQUENCY.high / 1e3]),
        ("C100", spec.PULSES_PER_REVOLUTION),
        ("C101", [spec.SUPPLY.low, spec.SUPPLY.high]),
        ("C102", spec.STEADY_CURRENT.high),
        ("C103", spec.START_CURRENT.high),
        ("C104", spec.LOGIC_LOW.high),
        ("C105", spec.OPEN_CIRCUIT.high),
        ("C107", 100 * spec.SPEED_MATCH.high),
        ("C108", 100 * spec.MINIMUM_SPEED.high),
        ("C109", spec.START_PULSE_LENGTH.high),
        ("C111", 60.0 * spec.pulses_speed(80.0, 2)),
    ],
)
def test_the_limits_are_those_that_are_printed(number: str, found: object) -> None:
    assert found == pytest.approx(FIGURES[number]["expected"], rel=1e-12), FIGURES[number]["source"]


@pytest.mark.parametrize(
    ("limit", "number"),
    [
        (spec.PWM_FREQUENCY, "C099"),
        (spec.SUPPLY, "C101"),
        (spec.STEADY_CURRENT, "C102"),
        (spec.START_CURRENT, "C103"),
        (spec.SPEED_MATCH, "C107"),
        (spec.MINIMUM_SPEED, "C108"),
        (spec.START_PULSE_LENGTH, "C109"),
    ],
)
def test_each_limit_names_its_page(limit: spec.Allowed, number: str) -> None:
    assert FIGURES[number]["source"].endswith(f"page {limit.page}")


# --- start attempts


def test_ten_of_ten_prove_only_so_much() -> None:
    assert proven_share(10, 10) == pytest.approx(0.05 ** (1 / 10), rel=1e-12)  # closed form, α^(1/n)
    assert proven_share(10, 10) == pytest.approx(0.741, abs=5e-4)  # design: 10 of 10 proves only > 74 %


@pytest.mark.parametrize("attempts", [1, 3, 10, 29, 100])
def test_the_bound_is_that_of_clopper_and_pearson(attempts: int) -> None:
    for started in range(attempts + 1):
        test = scipy.stats.binomtest(started, attempts, alternative="greater")
        expected = test.proportion_ci(confidence_level=0.95, method="exact").low
        assert proven_share(started, attempts) == pytest.approx(expected, abs=1e-10)


def test_the_bound_covers_by_brute_force() -> None:
    """At a true share p the bound lies above p in at most 5 % of all outcomes."""
    for p in (0.5, 0.74, 0.9, 0.99):
        outcomes = np.arange(11)
        wrong = np.array([proven_share(int(each), 10) > p for each in outcomes])
        assert scipy.stats.binom.pmf(outcomes, 10, p)[wrong].sum() <= 0.05 + 1e-12


@pytest.mark.parametrize(("started", "attempts"), [(1, 0), (3, 2), (-1, 5)])
def test_impossible_counts_are_refused(started: int, attempts: int) -> None:
    with pytest.raises(OutOfRange):
        proven_share(started, attempts)


def test_a_confidence_that_is_none_is_refused() -> None:
    with pytest.raises(OutOfRange):
        proven_share(1, 1, 1.0)


def test_attempts_are_counted_by_setting() -> None:
    counts = start_counts(
        [Attempt(0.2, 1, 1, 30.0, True), Attempt(0.15, 10, 9, 30.0, True), Attempt(0.2, 9, 9, 30.0)]
    )
    assert [(each.setting, each.started, each.attempts) for each in counts] == [(0.15, 9, 10), (0.2, 10, 10)]
    assert counts[1].from_rest is True
    assert counts[1].cold is None  # of one that was told, of others not
    assert threshold_of(counts) is not None
    found = threshold_of(counts)
    assert found is not None
    assert (found.low, found.high, found.how) == (0.15, 0.2, How.ATTEMPTS)


def test_one_attempt_from_a_turning_rotor_is_no_start_from_rest() -> None:
    (count,) = start_counts([Attempt(0.2, 1, 1, 30.0), Attempt(0.2, 1, 1, 1.0)])
    assert count.from_rest is False


def test_thresholds_of_attempts_may_have_one_end() -> None:
    only = threshold_of(start_counts([Attempt(0.2, 10, 10)]))
    assert only is not None
    assert (only.low, only.high) == (None, 0.2)
    never = threshold_of(start_counts([Attempt(0.2, 10, 0), Attempt(0.3, 10, 4)]))
    assert never is not None
    assert (never.low, never.high) == (0.3, None)
    assert threshold_of(()) is None


@pytest.mark.parametrize(
    ("attempts", "steps", "expected"),
    [
        ((None, 3.5), (3.0, 3.5), (3.0, 3.5, How.ABOVE_STANDING)),
        ((2.0, 4.0), (3.0, 5.0), (3.0, 4.0, How.ABOVE_STANDING)),
        ((3.0, 4.0), (2.0, 5.0), (3.0, 4.0, How.ATTEMPTS)),
        ((None, 3.5), (3.5, 4.0), (None, 3.5, How.ATTEMPTS)),  # one standing against all attempts
        ((None, 3.5), (None, 3.0), (None, 3.5, How.ATTEMPTS)),
        ((3.0, None), (2.0, 4.0), (3.0, 4.0, How.BOTH)),
        ((3.0, None), (3.5, 4.0), (3.5, 4.0, How.BOTH)),
        ((3.0, None), (3.5, None), (3.0, None, How.ATTEMPTS)),
        ((3.0, None), (2.0, 2.5), (3.0, None, How.ATTEMPTS)),
    ],
)
def test_attempts_and_the_response_tell_a_start_together(
    attempts: tuple[float | None, float | None],
    steps: tuple[float | None, float | None],
    expected: tuple[float | None, float | None, How],
) -> None:
    found = start_of(Threshold(*attempts, How.ATTEMPTS), Threshold(*steps, How.STEPS))
    assert found is not None
    assert (found.low, found.high, found.how) == expected


def test_a_start_below_a_failed_one_counts_for_nothing() -> None:
    found = threshold_of(start_counts([Attempt(0.1, 3, 3), Attempt(0.2, 10, 9), Attempt(0.25, 10, 10)]))
    assert found is not None
    assert (found.low, found.high) == (0.2, 0.25)


# --- responses


def response(
    settings: list[float], speeds: list[float], told: list[bool | None] | None = None
) -> tuple[Leg, ...]:
    return legs(np.array(settings), np.array(speeds), np.full(len(settings), 0.1), told)


DOWN = [1.0, 0.8, 0.6, 0.4, 0.2, 0.1]
STOPPING = response([*DOWN, 0.2, 0.4, 0.6, 0.8, 1.0], [30, 24, 18, 12, 6, 0, 0, 12, 18.6, 24, 30])


def test_a_staircase_is_parted_where_it_turns() -> None:
    assert [leg.is_falling for leg in STOPPING] == [True, False]
    assert STOPPING[1].response.settings[0] == 0.1  # the turning point belongs to both


def test_where_it_stops_and_starts_lies_between_settings() -> None:
    stop, start = stop_threshold(STOPPING), start_threshold(STOPPING)
    assert stop is not None
    assert (stop.low, stop.high) == (0.1, 0.2)
    assert start is not None
    assert (start.low, start.high, start.how) == (0.2, 0.4, How.STEPS)
    lowest = lowest_running(STOPPING)
    assert lowest is not None
    assert (lowest.setting, lowest.speed) == (0.2, 6.0)
    assert slowest_before(STOPPING, lowest, stop) == pytest.approx(
        3.0
    )  # 30 per duty, a tenth of a duty below
    assert behaviour(STOPPING, 30.0, goes_full=False) is Behaviour.STOPS


def test_told_directions_come_before_settings() -> None:
    """The last falling step and the first rising one are at one setting."""
    found = response([0.4, 0.2, 0.2, 0.4], [12, 6, 0, 12], [True, True, False, False])
    assert [(leg.is_falling, leg.response.speeds.tolist()) for leg in found] == [
        (True, [12, 6]),
        (False, [0, 12]),
    ]
    start = start_threshold(found)
    assert start is not None
    assert (start.low, start.high) == (0.2, 0.4)
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (None, 0.2)


def test_a_stair_that_was_run_twice_widens_the_threshold() -> None:
    """It stopped between 15 and 20 % once, and between 5 and 10 % another time: the range holds both."""
    found = response([1.0, 0.2, 0.15, 1.0, 0.15, 0.1, 0.05], [30, 6, 0, 30, 4.5, 3, 0])
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (0.05, 0.20)


def test_stairs_that_agree_narrow_the_threshold() -> None:
    found = response([1.0, 0.2, 0.1, 1.0, 0.15, 0.05], [30, 6, 0, 30, 4.5, 0])
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (0.1, 0.15)


def test_a_fan_that_stood_and_turned_again_has_its_threshold_between() -> None:
    found = response([1.0, 0.2, 0.15, 0.1, 0.05], [30, 6, 0, 3, 0])
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (0.1, 0.15)


def test_a_fan_that_stood_once_and_never_stopped_below_has_no_lower_end() -> None:
    found = response([1.0, 0.2, 0.15, 1.0, 0.15, 0.1], [30, 6, 0, 30, 4.5, 3])
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (None, 0.20)


def test_one_that_never_stopped_has_no_lower_end() -> None:
    found = response([1.0, 0.5, 0.2], [30, 15, 6])
    stop = stop_threshold(found)
    assert stop is not None
    assert (stop.low, stop.high) == (None, 0.2)
    assert start_threshold(found) is None
    assert behaviour(found, 30.0, goes_full=False) is Behaviour.NEVER_STOPPED


def test_one_that_never_started_has_no_upper_end() -> None:
    found = response([0.0, 0.1, 0.2], [0, 0, 0])
    start = start_threshold(found)
    assert start is not None
    assert (start.low, start.high) == (0.2, None)
    assert stop_threshold(found) is None
    assert lowest_running(found) is None


def test_rising_settings_alone_tell_no_stop() -> None:
    found = response([0.0, 0.2, 1.0], [0, 6, 30])
    assert stop_threshold(found) is None
    assert lowest_running(found) is None
    assert behaviour(found, 30.0, goes_full=False) is None


@pytest.mark.parametrize(
    ("speeds", "expected"),
    [
        ([30, 15, 6, 6, 6], Behaviour.KEEPS_MINIMUM),
        ([30, 15, 6, 6, 0], Behaviour.OFF_AT_ZERO),
        ([30, 15, 6, 3, 0], Behaviour.STOPS),
        ([30, 15, 6, 0, 0], Behaviour.STOPS),
    ],
)
def test_what_it_does_at_the_low_end(speeds: list[float], expected: Behaviour) -> None:
    """The types A, B and C of the specification, figures 4 to 6."""
    found = response([1.0, 0.5, 0.2, 0.1, 0.0], speeds)
    assert behaviour(found, 30.0, goes_full=False) is expected


def test_full_speed_without_a_signal_is_no_response() -> None:
    found = response([1.0, 0.5, 0.2, 0.1, 0.0], [30, 15, 6, 0, 30])
    kept, goes_full = without_open_end(found[0].response, 30.0, "duty")
    assert goes_full
    assert kept.settings.tolist() == [1.0, 0.5, 0.2, 0.1]
    volts, none = without_open_end(found[0].response, 30.0, "volts")
    assert not none
    assert len(volts.settings) == 5
    assert behaviour([Leg(kept, True)], 30.0, goes_full=True) is Behaviour.FULL_AT_ZERO


def test_hysteresis_where_both_ways_turn() -> None:
    up, down = joined(STOPPING, falling=False), joined(STOPPING, falling=True)
    assert up is not None
    assert down is not None
    assert hysteresis(up, down, 30.0) == pytest.approx((0.6 / 30.0, 0.6))
    assert full_speed([up, down])[:2] == (1.0, 30.0)


def test_a_speed_that_falls_while_the_setting_rises_is_told() -> None:
    assert falls_back(STOPPING, 30.0) is None
    assert falls_back(response([0.2, 0.4, 0.6, 1.0], [6, 14, 12, 30]), 30.0) == (0.4, 0.6)


def test_steps_at_one_setting_are_no_response() -> None:
    with pytest.raises(NotPossible):
        response([0.5, 0.5, 0.5], [15, 15, 15])


# --- the line of the specification


def line(duties: list[float], shares: list[float]) -> tuple[Leg, ...]:
    return response(duties, [30.0 * each for each in shares])


def test_departure_from_the_line_by_hand() -> None:
    found = greatest_departure(line([1.0, 0.7, 0.5, 0.3, 0.1], [1.0, 0.78, 0.6, 0.3, 0.3]), 30.0, 0.1, 1.0)
    assert found is not None
    assert (found.departure, found.setting, found.falling) == (pytest.approx(0.10), 0.5, True)
    assert found.u == pytest.approx(math.hypot(0.1, 0.6 * 0.1) / 30.0)


def test_below_thirty_per_cent_nothing_is_judged() -> None:
    found = greatest_departure(line([1.0, 0.5, 0.3, 0.1], [1.0, 0.5, 0.3, 0.3]), 30.0, 0.1, 1.0)
    assert found is not None
    assert found.departure == pytest.approx(0.0, abs=1e-12)


def test_standing_still_above_thirty_per_cent_is_a_departure() -> None:
    found = greatest_departure(line([1.0, 0.5, 0.35], [1.0, 0.5, 0.0]), 30.0, 0.1, 1.0)
    assert found is not None
    assert found.departure == pytest.approx(-0.35)


def test_without_full_duty_there_is_no_departure() -> None:
    assert greatest_departure(line([0.9, 0.5, 0.3], [0.9, 0.5, 0.3]), 27.0, 0.1, 0.9) is None
    assert greatest_departure(line([1.0, 0.2], [1.0, 0.2]), 30.0, 0.1, 1.0) is None


def test_what_the_speed_meter_shares_cancels() -> None:
    duties, shares = [1.0, 0.7, 0.5, 0.3], [1.0, 0.75, 0.55, 0.3]
    one = greatest_departure(line(duties, shares), 30.0, 0.0, 1.0)
    other = greatest_departure(line(duties, [2 * each for each in shares]), 60.0, 0.0, 1.0)
    assert one is not None
    assert other is not None
    assert one.departure == pytest.approx(other.departure, rel=1e-12)


# --- staircases that were logged


def test_a_log_becomes_settled_steps() -> None:
    settings, speeds = [], []
    rng = np.random.default_rng(7)
    true: Array = np.array([30.0, 20.0, 10.0])
    before = 0.0
    for setting, speed in zip((1.0, 0.7, 0.35), true, strict=True):
        for i in range(20):
            settings.append(setting)
            speeds.append(speed + (before - speed) * math.exp(-i / 1.6) + rng.normal(0.0, 0.02))
        before = speed
    steps = steps_of(np.array(settings), np.array(speeds), same=0.004)
    assert steps.settings.tolist() == [1.0, 0.7, 0.35]
    np.testing.assert_allclose(steps.speeds, true, atol=0.05)
    assert np.all(steps.u > 0.005)


def test_a_table_of_steps_stays_as_it_is() -> None:
    steps = steps_of(np.array([1.0, 0.5, 0.5]), np.array([30.0, 15.0, 14.0]), same=0.004, breaks=[2])
    assert steps.speeds.tolist() == [30.0, 15.0, 14.0]


def test_settings_snap_to_their_grid() -> None:
    assert snapped(np.array([6.98, 7.03, 7.05]), 0.1, 0.04).tolist() == pytest.approx([7.0, 7.0, 7.05])


def test_the_step_in_which_speeds_are_shown() -> None:
    assert resolution_of(np.array([600.0, 630.0, 1200.0]) / 60.0) == pytest.approx(0.5)
    assert resolution_of(np.array([601.0, 633.0, 1207.0]) / 60.0) == pytest.approx(1 / 60)
    assert resolution_of(np.array([601.37, 633.12, 1207.9]) / 60.0) == 0.0


# --- inrush


def test_an_exponential_inrush_by_its_closed_form() -> None:
    """0.12 A + 1.4 A e^(−t/80 ms): 1.52 A, over when a tenth of the excess is left, at 80 ms · ln 10."""
    times = np.arange(0.0, 1.0, 0.002)
    found = inrush_of(times, 0.12 + 1.4 * np.exp(-times / 0.08))
    assert found.peak == pytest.approx(1.52)
    assert found.steady == pytest.approx(0.12, abs=1e-4)
    assert found.length == pytest.approx(0.08 * math.log(10.0), abs=0.004)
    assert found.above_limit == pytest.approx(0.002)
    assert not found.is_bound


def test_a_coarse_record_tells_but_a_bound() -> None:
    times = np.arange(0.0, 2.0, 0.1)
    assert inrush_of(times, 0.12 + 1.4 * np.exp(-times / 0.08)).is_bound
    told = peak_told(np.array([0.6, 0.9]))
    assert told.peak == 0.9
    assert told.is_bound
    assert told.length is None


def test_a_record_without_a_start_is_refused() -> None:
    times = np.arange(0.0, 1.0, 0.002)
    noise = 0.01 * np.sin(times * 400.0)
    with pytest.raises(NotPossible):
        inrush_of(times, 0.12 + noise)
    with pytest.raises(NotPossible):
        inrush_of(times[:5], np.array([1.0, 0.5, 0.2, 0.1, 0.1]))
    with pytest.raises(NotPossible):
        inrush_of(times[::-1], 0.12 + 1.4 * np.exp(-times / 0.08))
