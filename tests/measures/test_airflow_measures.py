"""Measures on a fan whose curve is known in closed form: p = P₀ (1 − (Q/Q_max)²), so every answer is a formula."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stillroom.core.characteristic import Readings, fit_characteristic
from stillroom.core.mounted import MeasuredObstacle, MountedFan, fit_polynomial
from stillroom.core.resistance import Law, fit_resistance
from stillroom.core.room_air import STANDARD_VISCOSITY
from stillroom.errors import NotPossible, UnknownThing
from stillroom.measures import MEASURES, Condition, evaluate, measure_named

D = 0.12
N = 25.0  # 1/s
AREA = np.pi * D**2 / 4
TIP = np.pi * D * N
PSI_0, PHI_MAX = 0.30, 0.20
P_0 = PSI_0 * 0.6 * TIP**2
Q_MAX = PHI_MAX * AREA * TIP
TRIALS = 500


def parabola(sag: float = 0.0) -> MountedFan:
    phi = np.tile(np.linspace(0.0, PHI_MAX, 14), 4)
    psi = PSI_0 * (1 - (phi / PHI_MAX) ** 2)
    n = len(phi)
    readings = Readings(
        flow_coefficient=phi,
        pressure_coefficient=psi,
        reynolds=np.repeat(np.array([10.0, 16.0, 23.0, 30.0]) * np.pi * D**2 * 1.2 / STANDARD_VISCOSITY, 14),
        sweep=np.repeat(np.arange(4), 14).astype(np.intp),
        shared_flow=np.array([0.005 * phi]),
        shared_pressure=np.zeros((1, n)),
        own_flow=np.full(n, 1e-5),
        own_pressure=np.full(n, 1e-5),
        own_covariance=np.zeros(n),
        sources=("instrument/nozzle gauge/gain",),
        identity="parabola-1",
    )
    first = phi[:14]
    speed = fit_polynomial(
        np.stack([np.ones(14), first, first**2], axis=1),
        N * (1 - sag * first / PHI_MAX),
        shared=np.zeros((0, 14)),
        own=np.zeros(14),
        draws=np.zeros((14, TRIALS)),
        sources=(),
    )
    return MountedFan(fit_characteristic(readings, TRIALS), D, (10.0, 30.0), speed, None)


def quadratic_obstacle(b: float) -> MeasuredObstacle:
    flow = np.linspace(0.004, 0.03, 10)
    zeros = np.zeros((0, 10))
    fitted = fit_resistance(
        flow,
        b * flow**2,
        shared_flow=zeros,
        shared_pressure=zeros,
        own_flow=np.full(10, 1e-7),
        own_pressure=np.full(10, 1e-4),
        sources=(),
        identity="grille",
        trials=TRIALS,
        law=Law.LINEAR_QUADRATIC,
    )
    return MeasuredObstacle(fitted, 1.2, STANDARD_VISCOSITY)


@pytest.fixture(scope="module")
def fan() -> MountedFan:
    return parabola()


def value(
    name: str, fan: MountedFan, obstacle: MeasuredObstacle | None = None, speed: float | None = N
) -> float:
    return evaluate(measure_named(name), fan, obstacle, Condition(speed)).value


def test_free_airflow_and_maximum_pressure_are_the_ends_of_the_curve(fan: MountedFan) -> None:
    assert value("free-airflow", fan) == pytest.approx(Q_MAX, rel=5e-4)
    assert value("maximum-pressure", fan) == pytest.approx(P_0, rel=5e-4)


def test_greatest_air_power_of_a_parabola(fan: MountedFan) -> None:
    # d/dQ [Q P₀ (1 − (Q/Q_max)²)] = 0 at Q = Q_max/√3: P = 2 P₀ Q_max / (3 √3)
    assert value("air-power", fan) == pytest.approx(2 * P_0 * Q_MAX / (3 * np.sqrt(3)), rel=5e-4)


@pytest.mark.parametrize("b", [8e3, 4e4, 2e5])
def test_airflow_through_a_quadratic_obstacle(fan: MountedFan, b: float) -> None:
    # P₀ − P₀ (Q/Q_max)² = b Q²  →  Q = √(P₀ / (b + P₀/Q_max²))
    exact = np.sqrt(P_0 / (b + P_0 / Q_MAX**2))
    assert value("airflow", fan, quadratic_obstacle(b)) == pytest.approx(exact, rel=1e-3)


@pytest.mark.parametrize("speed", [12.0, 20.0, 29.0])
def test_a_quadratic_obstacle_makes_flow_follow_the_fan_law(fan: MountedFan, speed: float) -> None:
    through = quadratic_obstacle(4e4)
    ratio = value("airflow", fan, through, speed) / value("airflow", fan, through, N)
    assert ratio == pytest.approx(speed / N, rel=5e-3)


def test_at_full_setting_the_speed_at_the_operating_point_counts() -> None:
    sagging = parabola(sag=0.05)
    free = value("free-airflow", sagging, None, None)
    assert free == pytest.approx(Q_MAX * 0.95, rel=5e-4)
    assert value("maximum-pressure", sagging, None, None) == pytest.approx(P_0, rel=1e-3)


def test_a_shared_gain_error_of_the_flow_moves_the_free_airflow_by_as_much(fan: MountedFan) -> None:
    found = evaluate(measure_named("free-airflow"), fan, None, Condition(N))
    # the penalty of the curve resists a stretch a little at its end: 4.5 % of the effect, not of the value
    assert found.loadings["instrument/nozzle gauge/gain"] / found.value == pytest.approx(0.005, rel=0.1)
    assert found.shared.std() / found.value == pytest.approx(0.005, rel=0.1)


def test_beyond_the_obstacles_readings_is_extrapolated(fan: MountedFan) -> None:
    within = evaluate(measure_named("airflow"), fan, quadratic_obstacle(4e4), Condition(N))
    assert within.marks == ()
    slack = MeasuredObstacle(
        replace(quadratic_obstacle(4e4).resistance, reach=(0.001, 0.9 * within.value)),
        1.2,
        STANDARD_VISCOSITY,
    )
    assert evaluate(measure_named("airflow"), fan, slack, Condition(N)).marks == ("extrapolated",)


def test_a_speed_outside_those_tested_is_refused(fan: MountedFan) -> None:
    with pytest.raises(NotPossible, match="tested from 600 to 1,800 rpm"):
        value("free-airflow", fan, None, 40.0)


def test_efficiency_without_volts_and_amps_is_refused(fan: MountedFan) -> None:
    with pytest.raises(NotPossible, match="volts and amps"):
        value("static-efficiency", fan)


def test_an_unknown_measure_is_named_with_the_nearest() -> None:
    with pytest.raises(UnknownThing, match="expected airflow"):
        measure_named("airflo")


def test_names_are_their_own() -> None:
    assert len({each.name for each in MEASURES}) == len(MEASURES)
