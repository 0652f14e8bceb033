"""Systems of fans and obstacles against closed forms, brute force and a library of fluid mechanics."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from stillroom.core.characteristic import Part, Readings, fit_characteristic
from stillroom.core.draws import normal_draws
from stillroom.core.fanlaws import disc_area
from stillroom.core.mounted import Curve, MeasuredObstacle, MountedFan, fit_polynomial
from stillroom.core.operating import branch_top, branches, operating_points
from stillroom.core.resistance import Law, fit_resistance
from stillroom.core.room_air import STANDARD_AIR, STANDARD_VISCOSITY, Air, barometric_pressure, room_air
from stillroom.core.systems import PUSH_PULL_SOURCE, Load, StatedResistance, System, arranged
from stillroom.errors import BadInput, NotPossible

TRIALS = 300
D, N = 0.12, 25.0
TIP = math.pi * D * N
AREA = math.pi * D**2 / 4
PSI_0, PHI_MAX = 0.30, 0.20
P_0, Q_MAX = PSI_0 * 0.6 * TIP**2, PHI_MAX * AREA * TIP


def made_fan(saddle: float = 0.0) -> MountedFan:
    """p = P₀(1 − (Q/Q_max)²), with a dip at φ = 0.08 where asked for."""
    phi = np.tile(np.linspace(0.0, PHI_MAX, 41), 4)
    psi = PSI_0 * (1 - (phi / PHI_MAX) ** 2) - saddle * np.exp(-(((phi - 0.08) / 0.010) ** 2))
    n = len(phi)
    readings = Readings(
        flow_coefficient=phi,
        pressure_coefficient=psi,
        reynolds=np.repeat(np.array([10.0, 16.0, 23.0, 30.0]) * np.pi * D**2 * 1.2 / STANDARD_VISCOSITY, 41),
        sweep=np.repeat(np.arange(4), 41).astype(np.intp),
        shared_flow=np.zeros((0, n)),
        shared_pressure=np.zeros((0, n)),
        own_flow=np.full(n, 1e-6),
        own_pressure=np.full(n, 1e-6),
        own_covariance=np.zeros(n),
        sources=(),
        identity="made",
    )
    ones = np.ones((41, 1))
    speed = fit_polynomial(ones, np.full(41, N), shared=np.zeros((0, 41)), own=np.zeros(41),
                           draws=np.zeros((41, TRIALS)), sources=()).padded(3)  # fmt: skip
    return MountedFan(fit_characteristic(readings, TRIALS), D, (10.0, 30.0), speed, None)


FAN = made_fan()
ONE = System()


def measured(a: float, b: float, density: float = 1.2, identity: str = "piece") -> MeasuredObstacle:
    flow = np.linspace(0.002, 0.03, 12)
    zeros = np.zeros((0, 12))
    fitted = fit_resistance(flow, a * flow + b * flow**2, shared_flow=zeros, shared_pressure=zeros,
                            own_flow=np.full(12, 1e-9), own_pressure=np.full(12, 1e-6), sources=(),
                            identity=identity, trials=TRIALS, law=Law.LINEAR_QUADRATIC)  # fmt: skip
    return MeasuredObstacle(fitted, density, STANDARD_VISCOSITY)


def curve_of(system: System, fan: MountedFan = FAN, sources: tuple[str, ...] = ()) -> Curve:
    one = fan.curve(N, Part.TOTAL, sources, air=system.air)
    return arranged(one, system, Part.TOTAL, sources)


def flow_through(load: Load, system: System = ONE, fan: MountedFan = FAN) -> float:
    """The system's operating flow by the code under test."""
    curve = curve_of(system, fan)
    points = operating_points(curve.phi, curve.pressure, load.drop(curve.flow, Part.TOTAL, ()))
    return float(curve.flow_at(points.flow)[0])


def exact(a: float, b: float, *, fans: int = 1, pressure: float = 1.0) -> float:
    """Root of pressure · P₀(1 − (Q/(fans · Q_max))²) = aQ + bQ², the positive one of a quadratic."""
    second = b + pressure * P_0 / (fans * Q_MAX) ** 2
    return (-a + math.sqrt(a * a + 4 * second * pressure * P_0)) / (2 * second)


A, B = 300.0, 1.5e4


def test_one_fan_on_one_piece() -> None:
    assert flow_through(Load(((measured(A, B),),))) == pytest.approx(exact(A, B), rel=5e-4)


@pytest.mark.parametrize("fans", [2, 3, 5])
def test_fans_side_by_side_add_their_flows_at_equal_pressure(fans: int) -> None:
    load = Load(((measured(A, B),),))
    assert flow_through(load, System(beside=fans)) == pytest.approx(exact(A, B, fans=fans), rel=5e-4)


@pytest.mark.parametrize("tiles", [0.5, 2.0, 3.0])
def test_a_larger_obstacle_has_the_drop_of_its_share_of_the_flow(tiles: float) -> None:
    load = Load(((measured(A, B),),), tiles=tiles)
    assert flow_through(load) == pytest.approx(exact(A / tiles, B / tiles**2), rel=5e-4)


def test_n_fans_on_n_tiles_move_n_times_the_air_of_one() -> None:
    one = flow_through(Load(((measured(A, B),),)))
    three = flow_through(Load(((measured(A, B),),), tiles=3.0), System(beside=3))
    assert three == pytest.approx(3 * one, rel=1e-9)


@pytest.mark.parametrize("factor", [0.5, 0.85, 1.0])
def test_push_pull_gives_twice_the_factor_of_the_pressure_at_equal_flow(factor: float) -> None:
    load = Load(((measured(A, B),),))
    expected = exact(A, B, pressure=2 * factor)
    assert flow_through(load, System(push_pull=factor)) == pytest.approx(expected, rel=5e-4)
    assert curve_of(System(push_pull=factor)).stages == 2


def test_push_pull_at_half_is_one_fan() -> None:
    load = Load(((measured(A, B),),))
    assert flow_through(load, System(push_pull=0.5)) == pytest.approx(flow_through(load), rel=1e-12)


def test_a_stated_uncertainty_of_the_factor_is_one_shared_source() -> None:
    system = System(push_pull=0.8, push_pull_u=0.04)
    curve = curve_of(system, sources=(PUSH_PULL_SOURCE,))
    sure = curve_of(System(push_pull=0.8), sources=(PUSH_PULL_SOURCE,))
    ratio = curve.pressure[:, 100] / sure.pressure[:, 100]
    assert ratio[0] == pytest.approx(1.0)
    assert ratio[1] == pytest.approx(0.84 / 0.80)
    assert ratio[2:] == pytest.approx(1 + 0.05 * normal_draws(PUSH_PULL_SOURCE, TRIALS))


def test_pieces_behind_each_other_add_their_drops() -> None:
    stack = Load(((measured(A, B), measured(120.0, 4e3, identity="mesh")),))
    assert flow_through(stack) == pytest.approx(exact(A + 120.0, B + 4e3), rel=5e-4)


def test_pieces_side_by_side_add_their_flows() -> None:
    """For pure quadratics 1/√b adds; otherwise Q₁ + Q₂ at one drop, by brentq."""
    both = Load(((measured(0.0, 1.25e4),), (measured(0.0, 6e3, identity="other"),)))
    b = (1 / math.sqrt(1.25e4) + 1 / math.sqrt(6e3)) ** -2
    assert flow_through(both) == pytest.approx(exact(0.0, b), rel=1e-3)
    mixed = Load(((measured(A, B),), (measured(120.0, 4e3, identity="mesh"),)))

    def flow_at(drop: float) -> float:
        return sum((-a + math.sqrt(a * a + 4 * b * drop)) / (2 * b) for a, b in ((A, B), (120.0, 4e3)))

    drop = brentq(lambda p: flow_at(p) - Q_MAX * math.sqrt(max(0.0, 1 - p / P_0)), 1e-6, P_0)
    assert flow_through(mixed) == pytest.approx(flow_at(drop), rel=1e-3)


def test_two_equal_pieces_side_by_side_are_two_tiles() -> None:
    pair = Load(((measured(A, B),), (measured(A, B),)))
    assert flow_through(pair) == pytest.approx(flow_through(Load(((measured(A, B),),), tiles=2.0)), rel=1e-4)


def test_a_stated_resistance_is_the_measured_one_of_the_same_law() -> None:
    stated = Load(((StatedResistance("as told", A, B),),))
    assert flow_through(stated) == pytest.approx(flow_through(Load(((measured(A, B),),))), rel=1e-6)
    assert flow_through(stated) == pytest.approx(exact(A, B), rel=5e-4)


@pytest.mark.parametrize(("a", "b"), [(0.0, 0.0), (-1.0, 5.0), (math.inf, 1.0)])
def test_a_resistance_that_can_not_be_is_refused(a: float, b: float) -> None:
    with pytest.raises(BadInput, match="rises with flow"):
        StatedResistance("odd", a, b)


@pytest.mark.parametrize("density", [0.95, 1.1, 1.25])
def test_thin_air_on_a_turbulent_obstacle_leaves_the_flow(density: float) -> None:
    """Both pressures go with ρ at equal speed: the crossing stays, but for the fan's Reynolds number."""
    air = Air(density, STANDARD_VISCOSITY * density / 1.2)  # the Reynolds number stays
    one = FAN.curve(N, Part.CENTRAL, (), air=air)
    standard = FAN.curve(N, Part.CENTRAL, ())
    assert one.pressure[0] == pytest.approx(standard.pressure[0] * density / 1.2, rel=1e-12)
    quadratic = Load(((measured(0.0, B),),), air=air)
    points = operating_points(one.phi, one.pressure[:1], quadratic.drop(one.flow[:1], Part.CENTRAL, ()))
    assert float(one.flow_at(points.flow)[0]) == pytest.approx(exact(0.0, B), rel=5e-4)


def test_the_linear_part_goes_with_viscosity_and_the_quadratic_with_density() -> None:
    air = Air(1.0, 1.9e-5)
    flow = np.array([0.01, 0.02])
    found = Load(((measured(A, B, density=1.15),),), air=air).drop(flow, Part.CENTRAL, ())[0]
    assert found == pytest.approx(A * 1.9e-5 / STANDARD_VISCOSITY * flow + B / 1.15 * flow**2, rel=1e-6)
    stated = Load(((StatedResistance("told", A, B),),), air=air).drop(flow, Part.CENTRAL, ())[0]
    assert stated == pytest.approx(A * 1.9e-5 / STANDARD_VISCOSITY * flow + B / 1.2 * flow**2, rel=1e-12)


def test_beyond_the_readings_counts_the_share_of_each_piece() -> None:
    piece = measured(A, B)  # read up to 0.03 m³/s
    assert not Load(((piece,),)).is_beyond(0.030, 0.01)
    assert Load(((piece,),)).is_beyond(0.031, 0.01)
    assert not Load(((piece,),), tiles=2.0).is_beyond(0.059, 0.01)
    assert not Load(((piece,), (piece,))).is_beyond(0.059, 0.01)
    assert Load(((piece,), (piece,))).is_beyond(0.062, 0.01)
    assert not Load(((StatedResistance("told", A, B),),)).is_beyond(9.9, 0.01)


@pytest.mark.parametrize("altitude", [-300.0, 0.0, 500.0, 1600.0, 3000.0, 5000.0])
def test_the_standard_atmosphere(altitude: float) -> None:
    """Against fluids.ATMOSPHERE_1976, which is ISO 2533 below 32 km but for its Earth's radius and gas constant."""
    assert barometric_pressure(altitude) == pytest.approx(fluids.ATMOSPHERE_1976(altitude).P, rel=1e-6)


@pytest.mark.parametrize(
    ("geometric", "hectopascal"), [(0.0, 1013.25), (1000.0, 898.76), (2000.0, 795.01), (3000.0, 701.21)]
)
def test_the_standard_atmosphere_as_tabled(geometric: float, hectopascal: float) -> None:
    """U.S. Standard Atmosphere 1976, table I (from memory)."""
    assert barometric_pressure(geometric) / 100 == pytest.approx(hectopascal, abs=0.006)


def test_the_air_of_a_room() -> None:
    assert room_air(None, None) is STANDARD_AIR
    assert room_air(0.0, None).density == pytest.approx(1.1993, abs=1e-4)  # CIPM-2007 at 20 °C and 50 %
    ratio = room_air(1600.0, 293.15).density / room_air(0.0, 293.15).density
    dry = barometric_pressure(1600.0) / barometric_pressure(0.0)
    assert ratio == pytest.approx(dry, rel=2e-3)  # less by the vapour, which doesn't thin out
    assert room_air(None, 308.15).density < room_air(None, 283.15).density


@pytest.mark.parametrize("told", [
    {"beside": 0}, {"beside": 101}, {"tiles": 0.0}, {"tiles": math.nan}, {"push_pull": 0.0}, {"push_pull": 2.5},
    {"push_pull": 0.8, "push_pull_u": 0.5}, {"altitude": 9000.0}, {"temperature": 200.0},
])  # fmt: skip
def test_a_system_that_can_not_be_is_refused(told: dict[str, float]) -> None:
    with pytest.raises(BadInput, match="expected"):
        System(**told)  # type: ignore[arg-type]


def test_every_root_of_every_row_by_brute_force() -> None:
    """Against sign changes on a grid fifty times as fine."""
    fan = made_fan(saddle=0.06)
    curve = fan.curve(N, Part.TOTAL, ())
    for k in (2.0e4, 4.5e4, 7.0e4, 1.2e5):
        load = Load(((StatedResistance("k", 0.0, k),),))
        drop = load.drop(curve.flow, Part.TOTAL, ())
        found = branches(curve.phi, curve.pressure, drop)
        fine = np.linspace(curve.phi[0], curve.phi[-1], 50 * len(curve.phi))
        for row in (0, 17, 200):
            surplus = np.interp(fine, curve.phi, curve.pressure[row] - drop[row])
            roots = fine[:-1][(surplus[:-1] > 0) != (surplus[1:] > 0)][::-1]
            mine = found.flow[row][np.isfinite(found.flow[row])]
            assert mine == pytest.approx(roots, abs=2 * (fine[1] - fine[0]))
            assert found.falling[row, : len(mine)].tolist() == [at % 2 == 0 for at in range(len(mine))]
        points = operating_points(curve.phi, curve.pressure, drop)
        assert np.nanmin(found.flow, axis=1) == pytest.approx(points.lowest)
        assert np.nanmax(found.flow, axis=1) == pytest.approx(points.highest)


def test_three_points_are_there_on_a_deep_saddle() -> None:
    curve = made_fan(saddle=0.09).curve(N, Part.CENTRAL, ())
    k = float(np.interp(0.088, curve.phi, curve.pressure[0])) / (0.088 * float(disc_area(D)) * TIP) ** 2
    found = branches(curve.phi, curve.pressure[:1], k * curve.flow[:1] ** 2)
    assert np.isfinite(found.flow[0]).sum() == 3
    slope = np.gradient(curve.pressure[0], curve.phi)
    assert found.rising[0].tolist() == [bool(np.interp(at, curve.phi, slope) > 0) for at in found.flow[0]]
    assert found.rising[0].tolist() == [True, True, False]
    assert found.falling[0].tolist() == [True, False, True]


def test_the_top_of_a_branch_ends_at_the_fall_behind_it() -> None:
    """Walking back from each place until the pressure has fallen by more than the slack, by a plain loop."""
    curve = made_fan(saddle=0.09).curve(N, Part.CENTRAL, ())
    pressure = curve.pressure[:1]
    for place in (60, 120, 160, 200, 250, 300):
        top = pressure[0, place]
        for at in range(place, -1, -1):
            if pressure[0, at] < top - 0.3:
                break
            top = max(top, pressure[0, at])
        assert branch_top(pressure, np.array([place]), 0.3)[0] == top
    monotone = FAN.curve(N, Part.CENTRAL, ()).pressure[:1]
    assert branch_top(monotone, np.array([300]), 0.01)[0] == pytest.approx(monotone.max())


def test_a_speed_that_was_not_tested_is_refused_in_a_system_too() -> None:
    with pytest.raises(NotPossible, match="tested from"):
        FAN.curve(40.0, Part.TOTAL, (), air=room_air(1000.0, None))


def test_power_goes_with_the_fans_and_the_density() -> None:
    one = np.ones((1, 1))
    power = fit_polynomial(one, np.array([2.0]), shared=np.zeros((0, 1)), own=np.zeros(1),
                           draws=np.zeros((1, TRIALS)), sources=())  # fmt: skip
    fan = MountedFan(FAN.characteristic, D, (10.0, 25.0), FAN.full_speed, power, 1)
    assert curve_of(System(), fan).power(Part.TOTAL, ())[0, 0] == pytest.approx(2.0)
    four = curve_of(System(beside=2, push_pull=0.9), fan)
    assert four.power(Part.TOTAL, ())[0, 0] == pytest.approx(8.0)
    high = curve_of(System(altitude=1600.0), fan)
    assert high.power(Part.TOTAL, ())[0, 0] == pytest.approx(2.0 * room_air(1600.0, None).density / 1.2)
