"""Faults of a sweep are found in the right sweep, with a ratio that names them; clean sweeps are left alone."""

from __future__ import annotations

import numpy as np
import pytest
from simulate import fan_a, fan_b, new_bench, reduced, run_bench

from stillroom.core.characteristic import Readings, fit_characteristic

FAMILIES = {"A": fan_a, "B": fan_b}


def readings(family, number, **settings):
    rng = np.random.default_rng([21, ord(family), number])
    fan, bench = FAMILIES[family](rng), new_bench(rng)
    return reduced(run_bench(fan, bench, rng, **settings), f"{family}{number}")


def misread(arguments, sweep, *, flow=1.0, pressure=1.0, speed=1.0):
    """One sweep with its flow, pressure or speed column read by a wrong factor."""
    factors = {
        "flow_coefficient": flow / speed,
        "own_flow": flow / speed,
        "shared_flow": flow / speed,
        "pressure_coefficient": pressure / speed**2,
        "own_pressure": pressure / speed**2,
        "shared_pressure": pressure / speed**2,
        "own_covariance": flow * pressure / speed**3,
        "reynolds": speed,
    }
    mine = arguments["sweep"] == sweep
    return arguments | {
        name: np.where(mine, arguments[name] * by, arguments[name]) for name, by in factors.items()
    }


def dropped(curve):
    return [each.sweep for each in curve.sweeps if each.dropped]


UNITS = {
    "mmH2O read as Pa": {"pressure": 1 / 9.80665},
    "Pa read as mmH2O": {"pressure": 9.80665},
    "CFM read as m3/h": {"flow": 0.588578},
    "m3/h read as CFM": {"flow": 1.699011},
}


@pytest.mark.parametrize("name", UNITS)
@pytest.mark.parametrize("family", FAMILIES)
def test_a_wrong_unit_of_one_sweep(family, name):
    flow, pressure = UNITS[name].get("flow", 1.0), UNITS[name].get("pressure", 1.0)
    for number, sweep in enumerate((7, 2, 4, 5)):
        curve = fit_characteristic(Readings(**misread(readings(family, number), sweep, **UNITS[name])), 200)
        check = curve.sweeps[sweep]
        assert dropped(curve) == [sweep]
        assert check.flow_scale.value == pytest.approx(flow, rel=0.03)
        assert check.pressure_scale.value == pytest.approx(pressure, rel=0.03)


@pytest.mark.parametrize("speed", [2.0, 0.5])
@pytest.mark.parametrize("family", FAMILIES)
def test_wrong_pulses_per_revolution_of_one_sweep(family, speed):
    """Speed by 2 or a half: φ by its inverse, ψ by its inverse square; 3 % also hold the Reynolds effect."""
    for number, sweep in enumerate((7, 3, 5)):
        curve = fit_characteristic(Readings(**misread(readings(family, number), sweep, speed=speed)), 200)
        check = curve.sweeps[sweep]
        assert dropped(curve) == [sweep]
        assert check.flow_scale.value == pytest.approx(1 / speed, rel=0.04)
        assert np.sqrt(check.pressure_scale.value) == pytest.approx(1 / speed, rel=0.03)


def test_the_slowest_sweep_says_how_well_its_ratio_is_known():
    """At 2 Pa a pressure zero of 0.1 Pa is 5 %: the ratio stays within its own standard deviations."""
    away = []
    for number in range(8):
        curve = fit_characteristic(Readings(**misread(readings("B", number), 0, pressure=9.80665)), 200)
        scale = curve.sweeps[0].pressure_scale
        assert dropped(curve) == [0]
        away.append((scale.value - 9.80665) / scale.sd)
    assert np.abs(away).max() < 3.0


@pytest.mark.parametrize("drift", [0.05, -0.05])
@pytest.mark.parametrize("family", FAMILIES)
def test_a_speed_that_drifts_within_one_sweep(family, drift):
    """Found in the right sweep, its size within 3 % of the speed, and told from the other departures."""
    named = []
    for number, sweep in enumerate((1, 3, 4, 6)):
        curve = fit_characteristic(Readings(**readings(family, number, drift=(sweep, drift))), 200)
        check = curve.sweeps[sweep]
        assert dropped(curve) == [sweep]
        assert 1 + check.speed_drift.value == pytest.approx(1 + drift, rel=0.03)
        named.append(check.worst[0] == "speed_drift")
    assert sum(named) >= 3


def test_two_wrong_sweeps_of_eight_are_both_found():
    arguments = misread(readings("B", 1), 2, pressure=9.80665)
    curve = fit_characteristic(Readings(**misread(arguments, 6, flow=1.699011)), 200)
    assert dropped(curve) == [2, 6]


def test_one_wrong_sweep_of_three_is_found():
    speeds = np.array([900.0, 1300.0, 1900.0])
    curve = fit_characteristic(Readings(**misread(readings("B", 2, speeds=speeds), 1, flow=0.588578)), 200)
    assert dropped(curve) == [1]
    assert curve.sweeps[1].flow_scale.value == pytest.approx(0.588578, rel=0.03)


def test_a_single_wrong_point_is_held_with_its_ratios():
    arguments = readings("B", 3)
    index = 3 * 14 + 8
    for name, by in (("pressure_coefficient", 9.80665), ("flow_coefficient", 1.0)):
        arguments[name] = arguments[name].copy()
        arguments[name][index] *= by
    curve = fit_characteristic(Readings(**arguments), 200)
    assert [each.index for each in curve.held] == [index]
    assert curve.held[0].pressure_ratio == pytest.approx(9.80665, rel=0.03)
    assert curve.held[0].flow_ratio is None
    assert dropped(curve) == []
    arguments = readings("B", 3)
    index = 4 * 14 + 6
    arguments["flow_coefficient"] = arguments["flow_coefficient"].copy()
    arguments["flow_coefficient"][index] *= 1.699011
    curve = fit_characteristic(Readings(**arguments), 200)
    assert [each.index for each in curve.held] == [index]
    assert curve.held[0].flow_ratio == pytest.approx(1.699011, rel=0.03)


@pytest.mark.slow
def test_clean_sweeps_raise_no_alarm():
    """False alarms: at most 2 % of sets have a dropped sweep, and 0.2 % of points are held."""
    sets, points, bad, held = 0, 0, 0, 0
    for family in FAMILIES:
        for number in range(60):
            curve = fit_characteristic(Readings(**readings(family, 100 + number)), 50)
            sets, points = sets + 1, points + len(curve.residuals)
            bad += bool(dropped(curve))
            held += len(curve.held)
    assert bad <= 0.02 * sets
    assert held <= 0.002 * points
