"""The characteristic by itself: exact cases, what its rows mean, and that it is the same every time."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from simulate import (
    AREA,
    DENSITY,
    DIAMETER,
    KINEMATIC_VISCOSITY,
    Bench,
    fan_b,
    new_bench,
    reduce,
    reduced,
    run_bench,
)

from stillroom.core.characteristic import (
    Part,
    Readings,
    collapsed,
    compare_characteristics,
    fit_characteristic,
    pressure_coefficients,
)
from stillroom.core.characteristic.basis import Basis
from stillroom.core.characteristic.curve import REYNOLDS_PARAMETERS
from stillroom.core.characteristic.settle import same_settings
from stillroom.core.draws import normal_draws
from stillroom.core.intervals import coverage_interval
from stillroom.errors import BadInput, Contradiction, UnknownThing

SOURCES = ("bench/pressure gain", "bench/flow gain")


def parabola(phi):
    return 0.35 * (1.0 - (phi / 0.25) ** 2)


def exact(*, growth=0.0, sweeps=4, identity="exact", curve=parabola, sources=SOURCES):
    """Readings without error on ψ = s^growth · curve(φ s^−growth), s = Re/40000."""
    phi = np.tile(np.linspace(0.0, 0.25, 12), sweeps)
    reynolds = np.repeat(np.geomspace(20000.0, 80000.0, sweeps) if sweeps > 1 else [40000.0], 12)
    phi = phi * (reynolds / 40000.0) ** growth
    psi = (reynolds / 40000.0) ** growth * curve(phi * (reynolds / 40000.0) ** -growth)
    return Readings(
        flow_coefficient=phi,
        pressure_coefficient=psi,
        reynolds=reynolds,
        sweep=np.repeat(np.arange(sweeps), 12),
        shared_flow=np.stack([0.0 * phi, 0.006 * phi]),
        shared_pressure=np.stack([0.003 * psi, 0.0 * psi]),
        own_flow=0.004 * phi,
        own_pressure=np.full(len(phi), 0.001),
        own_covariance=np.zeros(len(phi)),
        sources=sources,
        identity=identity,
    )


GRID = np.linspace(0.0, 0.25, 101)


def test_a_parabola_comes_back():
    """The penalty is blind to parabolas, so nothing is smoothed away."""
    curve = fit_characteristic(exact())
    found = pressure_coefficients(curve, GRID, 40000.0, part=Part.CENTRAL)
    assert found.shape == (1, 101)
    assert found[0] == pytest.approx(parabola(GRID), abs=2e-4)
    assert curve.reach == (0.0, 0.25)
    assert all(each.collapse < 5e-3 and not each.dropped for each in curve.sweeps)
    assert curve.held == ()


@pytest.mark.parametrize("growth", [0.02, 0.04])
def test_growth_with_the_reynolds_number_is_found(growth):
    readings = exact(growth=growth)
    curve = fit_characteristic(readings)
    by_pressure, by_flow = curve.central[-REYNOLDS_PARAMETERS:]
    assert by_pressure == pytest.approx(growth, abs=0.004)
    assert by_flow == pytest.approx(growth, abs=0.004)
    slow = 0.5**growth * parabola(GRID[:90] * 0.5**-growth)
    found = pressure_coefficients(curve, GRID[:90], 20000.0, part=Part.CENTRAL)[0]
    assert found == pytest.approx(slow, abs=1.5e-3)
    phi, psi = collapsed(curve, readings.flow_coefficient, readings.pressure_coefficient, readings.reynolds)
    central = pressure_coefficients(curve, phi, curve.reynolds_reference, part=Part.CENTRAL)[0]
    assert psi == pytest.approx(central, abs=1.5e-3)
    assert curve.residuals == pytest.approx(np.zeros(len(psi)), abs=1.5e-3)


def test_rows_are_central_moved_and_trials():
    readings = exact()
    curve = fit_characteristic(readings, trials=500)
    rows = pressure_coefficients(curve, GRID, 40000.0)
    assert rows.shape == (1 + 2 + 500, 101)
    slope = -2 * 0.35 * GRID / 0.25**2
    # +1 sd of a pressure gain moves ψ by 0.3 %; of a flow gain, φ by 0.6 %: ψ by −slope · 0.006 φ
    assert rows[1] - rows[0] == pytest.approx(0.003 * parabola(GRID), abs=1.5e-5)
    assert rows[2] - rows[0] == pytest.approx(-slope * 0.006 * GRID, abs=6e-5)
    shared = pressure_coefficients(curve, GRID, 40000.0, part=Part.SHARED)[3:]
    expected = np.multiply.outer(normal_draws(SOURCES[0], 500), rows[1] - rows[0])
    expected += np.multiply.outer(normal_draws(SOURCES[1], 500), rows[2] - rows[0])
    assert shared - rows[0] == pytest.approx(expected, abs=1e-6)


def test_shared_errors_cancel_between_two_mountings():
    one, other = fit_characteristic(exact(identity="one")), fit_characteristic(exact(identity="two"))
    apart = pressure_coefficients(one, GRID, 40000.0)[3:] - pressure_coefficients(other, GRID, 40000.0)[3:]
    total = pressure_coefficients(one, GRID, 40000.0)[3:]
    middle = slice(30, 70)  # apart holds two noise parts, total one noise part and the shared part
    assert np.all(apart[:, middle].std(axis=0) < 0.7 * total[:, middle].std(axis=0))


@pytest.mark.parametrize("accuracy", [0.01, 0.03])
def test_a_large_common_gain_widens_the_curve_and_does_not_shrink_it(accuracy):
    """A gain that all points share is no evidence about the curve (Peelle's puzzle)."""
    rng = np.random.default_rng(9)
    readings = exact(sweeps=6, curve=lambda phi: parabola(phi) - 0.05 * np.exp(-(((phi - 0.1) / 0.02) ** 2)))
    noise = rng.standard_normal(readings.points)
    readings = replace(
        readings,
        pressure_coefficient=readings.pressure_coefficient * (1 + 0.005 * noise),
        shared_flow=np.stack([0.0 * noise, accuracy * readings.flow_coefficient]),
        shared_pressure=np.stack([accuracy * readings.pressure_coefficient, 0.0 * noise]),
    )
    curve = fit_characteristic(readings, 500)
    grid = np.linspace(0.01, 0.06, 20)
    rows = pressure_coefficients(curve, grid, 40000.0)
    assert rows[0] == pytest.approx(parabola(grid) - 0.05 * np.exp(-(((grid - 0.1) / 0.02) ** 2)), rel=0.006)
    assert rows[3:].std(axis=0) / rows[0] == pytest.approx(np.full(20, accuracy), rel=0.5)


def test_sources_of_a_union_keep_their_places():
    curve = fit_characteristic(exact(), trials=50)
    wanted = ("bench/other", SOURCES[1], SOURCES[0])
    rows = pressure_coefficients(curve, GRID, 40000.0, sources=wanted)
    plain = pressure_coefficients(curve, GRID, 40000.0)
    assert np.array_equal(rows[1], rows[0])
    assert rows[[2, 3]] == pytest.approx(plain[[2, 1]], abs=1e-15)
    assert np.array_equal(rows[4:], plain[3:])
    with pytest.raises(UnknownThing):
        pressure_coefficients(curve, GRID, 40000.0, sources=("bench/other",))


def simulated(number=0, **settings):
    rng = np.random.default_rng([11, number])
    return Readings(**reduced(run_bench(fan_b(rng), new_bench(rng), rng, **settings), f"fan {number}"))


def test_same_seed_same_bits_in_any_order():
    first, second = simulated(0), simulated(1)
    a = fit_characteristic(first)
    fit_characteristic(second)
    normal_draws("something else", 10)
    b = fit_characteristic(first)
    for name in ("central", "effects", "noise", "residuals"):
        assert np.array_equal(getattr(a, name), getattr(b, name)), name


def test_order_of_sources_does_not_matter():
    readings = simulated(2)
    turned = replace(
        readings,
        shared_flow=readings.shared_flow[::-1],
        shared_pressure=readings.shared_pressure[::-1],
        sources=readings.sources[::-1],
    )
    a, b = (pressure_coefficients(fit_characteristic(each), GRID, 80000.0) for each in (readings, turned))
    k = len(readings.sources)
    assert a[k + 1 :] == pytest.approx(b[k + 1 :], abs=1e-8)


def test_another_seed_moves_interval_ends_by_little():
    readings = simulated(3)
    grid = np.linspace(0.05, 0.9, 18) * readings.flow_coefficient.max()
    ends = []
    for seed in (1, 2, 3):
        rows = pressure_coefficients(fit_characteristic(readings, seed=seed), grid, 80000.0)
        ends.append(np.stack(coverage_interval(rows[1 + len(readings.sources) :], axis=0)))
    half = (ends[0][1] - ends[0][0]) / 2
    for other in ends[1:]:
        assert np.abs((other - ends[0]) / half).mean() < 0.06
        assert np.quantile(np.abs((other - ends[0]) / half), 0.95) < 0.12


def test_points_of_one_setting_share_an_abscissa():
    rng = np.random.default_rng(5)
    settings = np.linspace(0.1, 1.0, 10)
    x = (settings[None, :] * (1 + 0.004 * rng.standard_normal((8, 10)))).ravel()
    place, centres = same_settings(x, 0.004 * x)
    assert len(centres) == 10
    assert centres == pytest.approx(settings, rel=0.006)
    assert len(np.unique(place)) == 10


def test_aligned_settings_do_not_turn_flow_errors_into_slope():
    """Errors of flow alone, at aligned settings: the slope of the curve stays the truth's."""
    rng = np.random.default_rng(6)
    readings = exact(sweeps=8)
    read = readings.flow_coefficient * (1 + 0.006 * rng.standard_normal(96))
    noisy = replace(readings, flow_coefficient=read, own_flow=0.006 * readings.flow_coefficient)
    curve = fit_characteristic(noisy)
    found = pressure_coefficients(curve, GRID[5:97], 40000.0, part=Part.CENTRAL)[0]
    assert found == pytest.approx(parabola(GRID[5:97]), abs=0.004)


def test_a_single_sweep_is_fitted_and_says_less():
    several, one = fit_characteristic(exact()), fit_characteristic(exact(sweeps=1))
    assert len(one.sweeps) == 1
    assert one.held == ()
    central = pressure_coefficients(one, GRID, 40000.0, part=Part.CENTRAL)[0]
    assert central == pytest.approx(parabola(GRID), abs=3e-4)
    # far from the one Reynolds number the interval opens by what is not known of its effect
    spread = [
        pressure_coefficients(each, GRID[:50], 20000.0)[3:].std(axis=0).mean() for each in (several, one)
    ]
    assert spread[1] > 3.0 * spread[0]


def test_intervals_open_between_settings_and_beyond_the_readings():
    readings = simulated(4)
    curve = fit_characteristic(readings)
    top = readings.flow_coefficient.max()
    noise = pressure_coefficients(curve, np.array([0.6, 1.0, 1.08]) * top, 80000.0)[1 + len(curve.sources) :]
    spread = noise.std(axis=0)
    assert spread[2] > 1.3 * spread[1]


def test_scales_between_mountings():
    """A flow unit, the pulses per revolution, and the same sample twice."""
    one = fit_characteristic(exact(identity="one"))
    cfm = fit_characteristic(
        replace(
            exact(identity="cfm"),
            flow_coefficient=exact().flow_coefficient * 0.5886,
            shared_flow=exact().shared_flow * 0.5886,
            own_flow=exact().own_flow * 0.5886,
        )
    )
    found = compare_characteristics(one, cfm)
    assert found.flow_scale.value == pytest.approx(0.5886, rel=0.005)
    assert found.pressure_scale.value == pytest.approx(1.0, rel=0.005)
    assert found.distance > 20.0
    assert found.residual < 0.005
    same = compare_characteristics(one, fit_characteristic(exact(identity="two")))
    assert same.flow_scale.value == pytest.approx(1.0, abs=0.003)
    assert same.distance < 3.0
    assert 0.0003 < same.flow_scale.sd < 0.006


@pytest.mark.slow
def test_scales_of_one_sample_mounted_twice_lie_within_their_noise():
    """The distance follows a χ with 2 degrees of freedom: 95 % below 2.45, here with what t adds."""
    distances = []
    for number in range(40):
        rng = np.random.default_rng([12, number])
        fan, bench = fan_b(rng), new_bench(rng)
        two = [
            fit_characteristic(Readings(**reduced(run_bench(fan, bench, rng), f"{number}/{i}")), 600)
            for i in range(2)
        ]
        distances.append(compare_characteristics(*two).distance)
    assert np.mean(np.array(distances) < 2.45) >= 0.85
    assert np.median(distances) > 0.35


def test_two_sweeps_that_contradict_are_a_contradiction():
    readings = exact(sweeps=2)
    psi = np.where(readings.sweep == 1, readings.pressure_coefficient * 9.81, readings.pressure_coefficient)
    with pytest.raises(Contradiction, match="contradict each other"):
        fit_characteristic(replace(readings, pressure_coefficient=psi))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"own_flow": np.full(48, -1.0)}, "negative"),
        ({"reynolds": np.zeros(48)}, "Reynolds"),
        ({"flow_coefficient": np.zeros(48)}, "no point with flow"),
        ({"pressure_coefficient": np.full(48, np.nan)}, "pressure_coefficient, point 0"),
        ({"flow_coefficient": np.ones(5)}, "5 points"),
        ({"shared_flow": np.ones((1, 48))}, "shape"),
        ({"sources": ("one", "one")}, "twice"),
    ],
)
def test_readings_that_cannot_be_are_refused(change, words):
    with pytest.raises(BadInput, match=words):
        replace(exact(), **change)


def test_basis_is_a_partition_with_right_slopes_and_tangents():
    """B-splines sum to 1 and reproduce straight lines (Marsden's identity); slopes by differences."""
    basis = Basis(0.0, 1.0, 10)
    x = np.linspace(0.0, 1.0, 57)
    assert basis.values(x).sum(axis=1) == pytest.approx(np.ones(57))
    assert basis.values(x) @ basis.knots[2:-2] == pytest.approx(x)
    wavy = np.sin(np.arange(13.0))
    inner = x[1:-1]
    differences = (basis.values(inner + 1e-6) - basis.values(inner - 1e-6)) @ wavy / 2e-6
    assert basis.slopes(inner) @ wavy == pytest.approx(differences, abs=1e-6)
    beyond = (basis.values(np.array([1.0, 1.1, 1.3])) @ wavy).tolist()
    assert beyond[1] - beyond[0] == pytest.approx((beyond[2] - beyond[0]) / 3)


def test_the_simulator_returns_the_truth_when_its_errors_are_put_in():
    """With hidden errors put in and no reading noise, the reduction is exact: effects have the right sign."""

    class Quiet:
        def standard_normal(self, n):
            return np.zeros(n)

    rng = np.random.default_rng(13)
    fan, bench = fan_b(rng), new_bench(rng)
    sweeps = run_bench(fan, bench, Quiet())
    flow, pressure, speed = reduce(sweeps, {name: bench.error(name) for name in Bench.SIZE})
    assert flow == pytest.approx(sweeps.true_flow, rel=1e-9, abs=1e-12)
    assert pressure == pytest.approx(sweeps.true_pressure, abs=1e-9)
    assert speed == pytest.approx(sweeps.true_speed)
    as_read = reduce(sweeps, {})[0][sweeps.true_flow > 0] / sweeps.true_flow[sweeps.true_flow > 0] - 1
    assert 1e-4 < np.abs(as_read).max() < 0.03
    tip = np.pi * DIAMETER * speed / 60
    assert tip * DIAMETER / KINEMATIC_VISCOSITY == pytest.approx(reduced(sweeps, "x")["reynolds"], rel=3e-3)
    assert AREA * DENSITY > 0


def test_a_mounting_of_eight_by_fourteen_takes_little_time():
    """About 0.09 s on one core of 2020; the limit only catches a slip of an order of magnitude."""
    readings = simulated(5)
    fit_characteristic(readings)
    start = time.perf_counter()
    fit_characteristic(readings)
    assert time.perf_counter() - start < 3.0
