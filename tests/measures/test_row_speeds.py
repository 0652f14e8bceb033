"""Measures at a speed of its own in each row, and the speed that an airflow needs, against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from test_measures_at_a_point import SOUND, TRIALS, D, pressure

from stillroom.core.draws import normal_draws
from stillroom.core.mounted import MountedFan
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.sound.limit import LimitRule, limit_speed
from stillroom.core.systems import Load, StatedResistance, System
from stillroom.errors import NotPossible, UnknownThing
from stillroom.measures import Condition, evaluate, measure_named
from stillroom.measures.needed import needed_speed
from stillroom.measures.value import FULL_MARK

AREA = math.pi * D**2 / 4
QUADRATIC = Load(((StatedResistance("k", 0.0, 2.0e5),),))
MIXED = Load(((StatedResistance("a, b", 150.0, 1.5e5),),))
AT_1500, SLOPE = 30.0, 53.0
"""Level of the made fan at 1500 rpm [dB], and its rise with lg n [dB]."""


def speed_at(level: float) -> float:
    """Speed at which the straight line of level against lg n has a level [1/s]."""
    return float(25.0 * 10 ** ((level - AT_1500) / SLOPE))


def rows(level: float, own: float = 0.0, calibrator: float = 0.0) -> RowSpeeds:
    """Speeds at a limit: by the straight line, an error of the calibrator that others share, and one of the fan's own
    [dB].
    """
    speeds = np.geomspace(8.0, 33.0, 4001)
    line = AT_1500 + SLOPE * np.log10(speeds / 25.0)
    errors = calibrator * normal_draws("calibrator/one", TRIALS) + own * normal_draws("own/level", TRIALS)
    stack = np.concatenate([line[None, :], (line + calibrator)[None, :], line + errors[:, None]])
    found = limit_speed(stack, speeds, level, LimitRule.HIGHEST, sources=1)
    moved = found.speeds[0] * 10 ** (-own / SLOPE)
    return RowSpeeds(
        ("calibrator/one", "limit/made"),
        np.concatenate([found.speeds[:2], [moved], found.speeds[2:]]),
        np.concatenate([found.tops_out[:2], found.tops_out[:1], found.tops_out[2:]]),
    )


def flow_on(load: Load, speed: float) -> float:
    """Flow of the made fan on a load by root finding [m³/s]."""
    piece = load.stacks[0][0]
    assert isinstance(piece, StatedResistance)

    def surplus(phi: float) -> float:
        flow = phi * AREA * math.pi * D * speed
        return pressure(phi, speed, 0.0) - piece.linear * flow - piece.quadratic * flow**2

    return float(brentq(surplus, 1e-4, 0.22)) * AREA * math.pi * D * speed


@pytest.mark.parametrize("load", [QUADRATIC, MIXED])
@pytest.mark.parametrize("level", [22.0, 27.3, 33.0])
def test_airflow_at_a_noise_limit_is_that_at_the_speed_of_the_line(load: Load, level: float) -> None:
    found = evaluate(measure_named("airflow"), SOUND, load, Condition(noise=level), rows(level))
    assert found.value == pytest.approx(flow_on(load, speed_at(level)), rel=1e-3)
    assert found.marks == ()


def test_errors_of_a_level_go_over_to_the_flow_by_its_slope_and_are_shared_by_mountings() -> None:
    told = rows(28.0, own=0.5, calibrator=0.3)
    found = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=28.0), told)
    fixed = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(speed=speed_at(28.0)))
    # on Δp = kQ² the flow goes with the speed: 1 dB is a factor 10^(1/53) = 1.0444
    for name, db in (("calibrator/one", 0.3), ("limit/made", 0.5)):
        assert found.loadings[name] / found.value == pytest.approx(10 ** (-db / SLOPE) - 1.0, rel=0.02)
    spread = math.log(10.0) / SLOPE * math.hypot(0.3, 0.5)
    of_flow = float(fixed.shared.std()) / fixed.value
    assert found.shared.std() / found.value == pytest.approx(math.hypot(spread, of_flow), rel=0.05)
    np.testing.assert_allclose(found.noise.std(), fixed.noise.std(), rtol=0.05, atol=1e-12)
    variance = sum(each**2 for each in found.loadings.values())
    assert variance == pytest.approx(float(found.shared.var()), rel=0.1)


def test_a_fan_that_tops_out_gives_its_full_setting() -> None:
    at_full = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition())
    topped = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=60.0), rows(60.0))
    assert topped.value == pytest.approx(at_full.value, rel=1e-12)
    np.testing.assert_allclose(topped.shared, at_full.shared, rtol=1e-12)


def test_no_row_is_faster_than_full_setting_behind_the_obstacle() -> None:
    at_full = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition())
    level = AT_1500 + SLOPE * math.log10(29.9 / 25.0)  # full setting sags below this under load
    found = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=level), rows(level))
    assert found.value == pytest.approx(at_full.value, rel=1e-9)
    assert FULL_MARK not in found.marks  # at shut-off it could run so fast
    above = AT_1500 + SLOPE * math.log10(30.5 / 25.0)
    assert (
        FULL_MARK
        in evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=above), rows(above)).marks
    )


def heard_to(speed: float) -> RowSpeeds:
    """Of a fan that keeps to the limit up to the greatest speed heard [1/s], as if that were its full speed."""
    return RowSpeeds(("limit/made",), np.full(2 + TRIALS, speed), np.ones(2 + TRIALS, dtype=bool))


@pytest.mark.parametrize(("speed", "short"), [(18.0, True), (26.0, True), (27.5, False)])
def test_a_fan_heard_well_below_its_full_speed_gets_the_speed_heard(speed: float, short: bool) -> None:
    # full setting: 30 to 28.4 1/s from shut-off to φ = 0.2, 29.3 in the middle: 10 % above 26.6
    told = heard_to(speed)
    assert SOUND.is_heard_short(told) == short
    found = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=30.0), told)
    at_full = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition())
    expected = flow_on(QUADRATIC, speed) if short else at_full.value
    assert found.value == pytest.approx(expected, rel=1e-3)
    assert found.marks == ((f"its sound was measured only up to {speed * 60:,.0f} rpm",) if short else ())


def test_trials_that_top_out_below_full_speed_keep_the_speed_heard_too() -> None:
    told = heard_to(18.0)
    some = replace(told, full=np.arange(2 + TRIALS) % 3 == 2)  # the central row isn't
    found = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=30.0), some)
    same = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=30.0), told)
    np.testing.assert_allclose(found.shared, same.shared)


def without_full(fan: MountedFan) -> MountedFan:
    return replace(fan, full_speed=None)


@pytest.mark.parametrize(
    ("speed", "words"),
    [
        (9.85, "modelled: airflow tested from 600 to 1,800 rpm"),
        (30.8, "modelled: airflow tested from 600 to 1,800 rpm"),
        (9.97, ""),
        (30.1, ""),
    ],
)
def test_a_little_beyond_the_speeds_tested_is_modelled(speed: float, words: str) -> None:
    level = AT_1500 + SLOPE * math.log10(speed / 25.0)
    told = replace(rows(level), greatest_is_full=False)
    found = evaluate(measure_named("airflow"), without_full(SOUND), QUADRATIC, Condition(noise=level), told)
    assert found.value == pytest.approx(flow_on(QUADRATIC, speed), rel=2e-3)
    assert found.marks == ((words,) if words else ())


@pytest.mark.parametrize("speed", [9.6, 31.0])
def test_far_beyond_them_is_refused(speed: float) -> None:
    level = AT_1500 + SLOPE * math.log10(speed / 25.0)
    told = replace(rows(level), greatest_is_full=False)
    with pytest.raises(NotPossible, match="airflow tested from 600 to 1,800 rpm"):
        evaluate(measure_named("airflow"), without_full(SOUND), QUADRATIC, Condition(noise=level), told)


def test_a_limit_without_its_speeds_is_refused_and_so_are_sources_without_a_place() -> None:
    with pytest.raises(NotPossible, match="no speed for it"):
        evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(noise=30.0))
    with pytest.raises(UnknownThing, match="limit/made"):
        rows(30.0).rows(("calibrator/one",))


def test_rows_follow_another_order_of_sources() -> None:
    told = rows(30.0, own=0.5, calibrator=0.3)
    speeds, full = told.rows(("other", "limit/made", "calibrator/one"))
    assert speeds[1] == told.speeds[0]
    assert list(speeds[2:4]) == [told.speeds[2], told.speeds[1]]
    np.testing.assert_array_equal(speeds[4:], told.speeds[3:])
    assert full.shape == speeds.shape


# --- the speed that an airflow needs ----------------------------------------------------------------------


@pytest.mark.parametrize("load", [QUADRATIC, MIXED])
@pytest.mark.parametrize("speed", [12.0, 20.0, 29.0])
def test_the_speed_needed_is_the_inverse_of_the_airflow(load: Load, speed: float) -> None:
    found = needed_speed(SOUND, load, Condition(for_flow=flow_on(load, speed)))
    assert found.value == pytest.approx(speed, rel=1e-3)
    assert found.marks == ()


def test_it_is_so_for_systems_and_in_other_air_too() -> None:
    for system in (System(beside=3, tiles=2.0), System(push_pull=0.85), System(altitude=1600.0)):
        flow = evaluate(measure_named("airflow"), SOUND, MIXED, Condition(speed=20.0, system=system)).value
        found = needed_speed(SOUND, MIXED, Condition(for_flow=flow, system=system))
        assert found.value == pytest.approx(20.0, rel=1e-3)


def test_without_an_obstacle_it_goes_with_the_airflow() -> None:
    free = evaluate(measure_named("free-airflow"), SOUND, None, Condition(speed=20.0)).value
    assert needed_speed(SOUND, None, Condition(for_flow=free)).value == pytest.approx(20.0, rel=1e-3)


def test_its_errors_are_those_of_the_flow_turned_round() -> None:
    flow = evaluate(measure_named("airflow"), SOUND, QUADRATIC, Condition(speed=20.0))
    found = needed_speed(SOUND, QUADRATIC, Condition(for_flow=flow.value))
    name = "instrument/nozzle gauge/gain"
    assert found.loadings[name] / found.value == pytest.approx(-flow.loadings[name] / flow.value, rel=0.05)


@pytest.mark.parametrize(
    ("speed", "full", "words"),
    [
        (33.0, True, "more than its full speed, 1,800 rpm"),
        (33.0, False, "more than the greatest speed tested, 1,800 rpm"),
        (9.0, True, "less than the least speed tested, 600 rpm"),
    ],
)
def test_a_speed_that_the_fan_lacks_is_named(speed: float, full: bool, words: str) -> None:
    flow = flow_on(QUADRATIC, speed)
    with pytest.raises(NotPossible, match=words):
        needed_speed(SOUND, QUADRATIC, Condition(for_flow=flow), greatest_is_full=full)
    with pytest.raises(NotPossible, match="no airflow"):
        needed_speed(SOUND, QUADRATIC, Condition())
