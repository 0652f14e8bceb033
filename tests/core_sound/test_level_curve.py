"""The level curve against closed forms, brute force, and invented fans whose truth is known."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from level_truth import HIGH, INVERTED, LOW, TrueFan, dwells, ramp, random_fan

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.sound.level_curve import LevelCurve, fit_levels
from stillroom.core.sound.level_fit import pooled_resonances
from stillroom.core.sound.level_points import LevelPoint, frame_scatter, ramp_points
from stillroom.core.sound.level_process import Resonances, matern, sites_of_bounds
from stillroom.errors import BadInput, NotPossible, UnknownThing

PLAIN = TrueFan(30.0, 53.0, 7, (), 60.0, 0.0)  # 53 dB per decade, no tone
EVEN = np.linspace(LOW, HIGH, 12)


def fit(points: list[LevelPoint], trials: int = 400, **options: object) -> LevelCurve:
    settings = {"identity": "m", "sources": {}} | options
    return fit_levels(points, trials=trials, **settings)  # type: ignore[arg-type]


def at(curve: LevelCurve, rpm: Array | float) -> Array:
    return curve.rows(Part.CENTRAL, speeds=np.atleast_1d(np.asarray(rpm, dtype=np.float64)) / 60.0)[0]


def exact(levels: dict[float, float], u: float = 0.1) -> list[LevelPoint]:
    return [LevelPoint(n / 60.0, 0.0, level, u, False, False, f"dwell {n}") for n, level in levels.items()]


def bound(rpm: float, level: float, u: float = 0.2) -> LevelPoint:
    return LevelPoint(rpm / 60.0, 0.0, level, u, True, False, f"bound {rpm:.0f}")


def test_expectation_and_spread_by_the_formulas_written_out() -> None:
    """Rasmussen & Williams (2.25), (2.26), with every covariance written out element by element."""
    told = {600.0: 10.0, 900.0: 19.0, 1100.0: 27.5, 1500.0: 30.0, 1900.0: 35.0}
    curve = fit(exact(told), trials=4000)

    def kernel(a: float, b: float) -> float:
        def process(sd: float, rpm: float) -> float:
            d = math.sqrt(3) * abs(a - b) / rpm
            return sd**2 * (1 + d) * math.exp(-d)

        centre = math.exp(np.mean([math.log(n) for n in told]))
        slope = 16.0 * math.log10(a / centre) * math.log10(b / centre)
        return 900.0 + slope + process(0.5, 300.0) + process(1.0, 80.0)

    n, y = np.array(list(told)), np.array(list(told.values()))
    centre = math.exp(np.log(n).mean())
    trend = 53.0 * np.log10(n / centre)
    level = float(np.median(y - trend))
    inverse = np.linalg.inv([[kernel(a, b) + (0.01 if a == b else 0.0) for b in n] for a in n])
    for rpm in (700.0, 1000.0, 1100.0, 1305.0):
        across = np.array([kernel(rpm, b) for b in n])
        expected = level + 53.0 * math.log10(rpm / centre) + across @ inverse @ (y - level - trend)
        variance = kernel(rpm, rpm) - across @ inverse @ across
        rows = curve.rows(speeds=np.array([rpm / 60.0]))[:, 0]
        assert rows[0] == pytest.approx(expected, abs=1e-6)
        assert rows[1:].std() == pytest.approx(math.sqrt(variance), rel=0.05)
        assert rows[1:].mean() == pytest.approx(expected, abs=4 * math.sqrt(variance / 4000))


def test_matern_by_its_values() -> None:
    assert matern(np.array([0.0, 1.0]), 1.0) == pytest.approx(
        [1.0, (1 + math.sqrt(3)) * math.exp(-math.sqrt(3))]
    )


def test_a_fan_without_resonances_is_found_everywhere() -> None:
    curve = fit(dwells(PLAIN, EVEN, np.random.default_rng(1), sd=0.02))
    rpm = np.linspace(LOW, HIGH, 200)
    assert np.abs(at(curve, rpm) - PLAIN.level(rpm)).max() < 0.25
    assert curve.reach == (LOW / 60.0, HIGH / 60.0)
    assert not curve.bound.any()


def test_shared_errors_move_the_curve_as_they_move_the_points() -> None:
    points = dwells(PLAIN, EVEN, np.random.default_rng(1))
    background = np.where(EVEN < 900, 0.3, 0.0)
    sources = {"calibrator/c": 0.2, "day/q/1/sound": background}
    curve = fit(points, sources=sources)
    assert curve.sources == ("calibrator/c", "day/q/1/sound")
    assert curve.effects[0] == pytest.approx(0.2, abs=2e-3)
    moved = [replace(p, level=p.level + z) for p, z in zip(points, background, strict=True)]
    assert curve.effects[1] == pytest.approx(fit(moved).central - curve.central, abs=0.02)
    shared = curve.rows(Part.SHARED) - curve.central
    draws = np.multiply.outer(normal_draws("calibrator/c", 400), curve.effects[0])
    draws += np.multiply.outer(normal_draws("day/q/1/sound", 400), curve.effects[1])
    assert np.abs(shared[3:] - draws).max() < 1e-9
    total = curve.rows()
    assert np.abs(total[3:] - shared[3:] - curve.central - curve.noise).max() < 1e-5


def test_rows_take_the_order_of_sources_that_is_asked_for() -> None:
    curve = fit(dwells(PLAIN, EVEN, np.random.default_rng(1)), sources={"b": 0.2})
    rows = curve.rows(Part.TOTAL, ("a", "b"), np.array([20.0]))
    assert rows.shape == (1 + 2 + 400, 1)
    assert rows[1, 0] == rows[0, 0]
    assert rows[2, 0] == pytest.approx(rows[0, 0] + 0.2, abs=2e-3)
    with pytest.raises(UnknownThing):
        curve.rows(Part.TOTAL, ("a",))


def test_what_is_shared_cancels_between_fans() -> None:
    sources = {"calibrator/c": 0.5}
    one = fit(dwells(PLAIN, EVEN, np.random.default_rng(1)), identity="one", sources=sources)
    other = fit(dwells(PLAIN, EVEN, np.random.default_rng(2)), identity="other", sources=sources)
    speeds = EVEN / 60.0
    difference = one.rows(speeds=speeds)[2:] - other.rows(speeds=speeds)[2:]
    assert difference.std(axis=0).max() < 0.3
    assert one.rows(speeds=speeds)[2:].std(axis=0).min() > 0.45


def test_same_identity_same_bits() -> None:
    points = dwells(INVERTED, EVEN, np.random.default_rng(1))
    first, again = fit(points), fit(list(reversed(points)))
    assert first.noise.dtype == np.float32
    assert np.array_equal(first.noise, again.noise)
    assert np.array_equal(first.central, again.central)
    assert np.array_equal(first.noise, fit(points, sources={"calibrator/c": 0.2}).noise)
    longer = fit(points, trials=800)
    assert np.abs(longer.noise[:400] - first.noise).max() < 1e-4
    assert not np.allclose(first.noise, fit(points, identity="another").noise)
    assert not np.allclose(first.noise, fit(points, seed=5).noise)


def test_a_speed_outside_is_refused() -> None:
    curve = fit(dwells(PLAIN, EVEN, np.random.default_rng(1)))
    assert at(curve, HIGH * 1.004)[0] == pytest.approx(curve.central[-1])
    with pytest.raises(NotPossible, match=r"2,100 rpm.*500 to 2,000 rpm"):
        at(curve, 2100.0)
    with pytest.raises(NotPossible, match="fewer than two speeds"):
        fit(exact({900.0: 20.0}))
    with pytest.raises(NotPossible, match="fewer than two speeds"):
        fit([])


def test_speeds_all_but_equal_are_no_trouble() -> None:
    curve = fit(exact({900.0: 20.0, 900.1: 20.2, 900.2: 20.1}))
    assert curve.central == pytest.approx(20.1, abs=0.05)


def test_uncertain_speeds_widen_by_the_slope() -> None:
    rpm = np.linspace(900.0, 1100.0, 9)
    points = dwells(PLAIN, rpm, np.random.default_rng(1), sd=0.1)
    known, unknown = fit(points), fit([replace(p, u_speed=20.0 / 60.0) for p in points])
    middle = len(known.speeds) // 2
    assert unknown.noise[:, middle].std() > 1.5 * known.noise[:, middle].std()


def test_a_resonance_between_the_dwells_is_found_by_the_ramp() -> None:
    draw = np.random.default_rng(4)
    rpm = np.linspace(LOW, HIGH, 11)  # 150 rpm apart
    fan = Narrow()
    apart = dwells(fan, rpm, draw)
    sweeps = [*ramp(fan, draw), *ramp(fan, draw, name="down")]
    only_dwells, both = fit(apart), fit([*apart, *sweeps])
    assert fan.level(1025.0) - at(only_dwells, 1025.0)[0] > 4.0
    assert abs(fan.level(1025.0) - at(both, 1025.0)[0]) < 0.8
    assert both.held == ()
    wide = np.linspace(940.0, 1110.0, 100)
    assert np.abs(fan.level(wide) - at(both, wide)).max() < 1.0


class Narrow(TrueFan):
    """6 dB at 1,025 rpm, 50 rpm wide between the speeds of half the power."""

    def __init__(self) -> None:
        super().__init__(30.0, 53.0, 7, (), 60.0, 0.0)

    def level(self, rpm: Array | float) -> Array:
        rpm = np.asarray(rpm, dtype=np.float64)
        peak = 10**0.6 - 1.0
        return PLAIN.level(rpm) + 10 * np.log10(1.0 + peak / (1.0 + ((rpm - 1025.0) / 25.0) ** 2))


def test_dwells_pin_a_ramp_that_lies_off() -> None:
    draw = np.random.default_rng(3)
    off = [replace(point, level=point.level + 0.4) for point in ramp(PLAIN, draw, sd=0.3)]
    curve = fit([*dwells(PLAIN, EVEN, draw, sd=0.1), *off])
    assert np.abs(at(curve, EVEN) - PLAIN.level(EVEN)).mean() < 0.12
    assert np.mean(curve.central - PLAIN.level(curve.speeds * 60)) < 0.2


def test_one_wild_point_of_a_ramp_is_held_and_told() -> None:
    draw = np.random.default_rng(6)
    points = [*dwells(INVERTED, EVEN, draw), *ramp(INVERTED, draw), *ramp(INVERTED, draw, name="down")]
    victim = next(i for i, each in enumerate(points) if each.run == "up" and each.speed * 60 > 1500)
    wild = [*points]
    wild[victim] = replace(points[victim], level=points[victim].level + 9.0)
    clean, curve = fit(points), fit(wild)
    assert clean.held == ()
    assert curve.held == (wild[victim],)
    assert wild[victim] in curve.points
    assert np.abs(curve.central - clean.central).max() < 0.25


def test_a_narrow_resonance_that_both_ramps_show_is_kept() -> None:
    """The second harmonic meets 165 Hz at 550 rpm: 4 dB, 25 rpm wide, between two dwells."""
    for seed in range(1, 5):
        draw = np.random.default_rng(seed)
        points = [*dwells(INVERTED, EVEN, draw), *ramp(INVERTED, draw), *ramp(INVERTED, draw, name="down")]
        assert fit(points, hyper=Resonances()).held == ()
        curve = fit(points)
        assert curve.held == ()
        assert at(curve, 550.0)[0] == pytest.approx(float(INVERTED.level(550.0)), abs=1.5)


def test_a_wild_frame_hardly_moves_the_uncertainty_of_a_ramp() -> None:
    draw = np.random.default_rng(7)
    level = 20.0 + 0.5 * draw.standard_normal(400)
    assert frame_scatter(level) == pytest.approx(0.5, rel=0.1)
    level[200] += 20.0
    assert frame_scatter(level) == pytest.approx(0.5, rel=0.1)


def test_one_wild_dwell_stays_a_local_matter() -> None:
    """Alone at its speed it can't be told from a resonance: it is believed there, and nowhere else."""
    points = dwells(PLAIN, EVEN, np.random.default_rng(8))
    wild = [*points[:5], replace(points[5], level=points[5].level + 8.0), *points[6:]]
    difference = fit(wild).central - fit(points).central
    speeds = fit(points).speeds * 60
    assert difference[np.abs(speeds - EVEN[5]) < 5.0].max() > 6.0
    assert np.abs(difference[np.abs(speeds - EVEN[5]) > 280.0]).max() < 0.35
    at_others = [i for i in range(12) if i != 5]
    assert np.abs(at(fit(wild), EVEN[at_others]) - at(fit(points), EVEN[at_others])).max() < 0.2
    assert fit(wild).held == ()


def test_bounds_are_not_values() -> None:
    """Where a chain's floor hides the fan, what is read must not bend the curve above it."""
    draw = np.random.default_rng(9)
    points = dwells(PLAIN, EVEN, draw)
    floor = 20.0
    hidden = [bound(p.speed * 60, floor) if p.level < floor else p for p in points]
    values = [p for p in points if p.level >= floor]
    curve, without = fit(hidden), fit(values)
    shown = np.linspace(values[0].speed * 60, HIGH, 100)
    assert np.abs(at(curve, shown) - at(without, shown)).max() < 0.1
    as_values = fit([replace(p, is_bound=False) for p in hidden])
    assert np.abs(at(as_values, shown) - at(without, shown)).max() > 0.1
    first = values[0].speed
    assert curve.bound[curve.speeds <= hidden[len(points) - len(values) - 1].speed].all()
    assert not curve.bound[curve.speeds >= first].any()
    flagged = curve.central[curve.bound]
    assert flagged == pytest.approx(floor, abs=0.3)
    assert np.all(flagged >= PLAIN.level(curve.speeds[curve.bound] * 60) - 0.3)
    jumps = np.abs(np.diff(curve.central))
    assert jumps.max() < 0.4


def test_a_bound_under_what_is_expected_pulls_the_curve_down() -> None:
    points = exact({n: float(PLAIN.level(n)) for n in (1100.0, 1300.0, 1500.0, 1700.0)})
    low = float(PLAIN.level(900.0)) - 4.0
    curve, without = fit([*points, bound(900.0, low)]), fit([*points, bound(900.0, low + 12.0)])
    assert at(curve, 900.0)[0] == pytest.approx(low, abs=0.3)
    assert at(curve, 960.0)[0] < at(without, 960.0)[0]


def test_a_bound_between_near_values_changes_nothing() -> None:
    points = dwells(PLAIN, EVEN, np.random.default_rng(10))
    loud = [*points, bound(1000.0, float(PLAIN.level(1000.0)) + 9.0)]
    curve, without = fit(loud), fit(points)
    assert not curve.bound.any()
    assert np.abs(curve.central - without.central).max() < 0.02


def test_a_long_stretch_of_bounds_is_flagged() -> None:
    points = dwells(PLAIN, EVEN, np.random.default_rng(10))
    middle = [p if not 800 < p.speed * 60 < 1500 else replace(p, is_bound=True, level=32.0) for p in points]
    curve = fit(middle)
    inside = (curve.speeds * 60 > 910) & (curve.speeds * 60 < 1450)
    assert curve.bound[inside].all()
    assert curve.central[inside] == pytest.approx(32.0, abs=0.1)
    assert not curve.bound[(curve.speeds * 60 < 770) | (curve.speeds * 60 > 1610)].any()


def test_nothing_but_bounds() -> None:
    curve = fit([bound(600.0, 19.0), bound(900.0, 21.0), bound(1200.0, 23.0)])
    assert curve.bound.all()
    assert at(curve, [600.0, 750.0, 1200.0]) == pytest.approx([19.0, 20.0, 23.0], abs=0.6)


def test_one_bound_by_quadrature() -> None:
    """A normal cut by Φ((bound − x)/u): mean and variance by numerical integration."""
    x = np.linspace(-40.0, 60.0, 400_001)
    for mean, variance, limit, u in ((20.0, 4.0, 19.0, 0.3), (20.0, 4.0, 15.0, 0.5), (20.0, 1.0, 26.0, 0.2)):
        erf = np.array([math.erf(each) for each in ((limit - x[::20]) / u / math.sqrt(2))])
        weight = np.interp(x, x[::20], 0.5 + 0.5 * erf) * np.exp(-0.5 * (x - mean) ** 2 / variance)
        expected = np.average(x, weights=weight)
        spread = np.average((x - expected) ** 2, weights=weight)
        level, own = sites_of_bounds(
            np.array([mean]), np.array([[variance]]), np.array([limit]), np.array([u])
        )
        left = 1.0 / (1.0 / variance + 1.0 / own[0] ** 2)
        assert left == pytest.approx(spread, rel=2e-3)
        assert left * (mean / variance + level[0] / own[0] ** 2) == pytest.approx(expected, abs=2e-3)


def test_two_bounds_by_brute_force() -> None:
    mean = np.array([20.0, 22.0])
    covariance = np.array([[4.0, 2.0], [2.0, 3.0]])
    limits, u = np.array([19.0, 21.0]), np.array([0.3, 0.3])
    draw = np.random.default_rng(11)
    drawn = draw.multivariate_normal(mean, covariance, size=1_000_000)
    kept = drawn[(drawn + u * draw.standard_normal(drawn.shape) <= limits).all(axis=1)]
    level, own = sites_of_bounds(mean, covariance, limits, u)
    precision = np.linalg.inv(covariance)
    after = np.linalg.inv(precision + np.diag(own**-2))
    expected = after @ (precision @ mean + level / own**2)
    assert expected == pytest.approx(kept.mean(axis=0), abs=0.03)
    assert np.sqrt(np.diag(after)) == pytest.approx(kept.std(axis=0), rel=0.05)


def test_frames_of_a_ramp_are_gathered_as_energy_and_corrected() -> None:
    speeds = np.array([1000.0, 1004.0, 1008.0, 1012.0, 1018.0]) / 60.0
    levels = np.array([30.0, 31.0, 32.0, 21.0, 21.0])
    found = ramp_points(speeds, levels, run="up", background=20.0, u_speeds=0.01)
    assert [len(found), *(each.is_bound for each in found)] == [2, False, True]
    mean = 10 * math.log10(np.mean(10 ** (0.1 * levels[:3])))
    energy = 10 ** (0.1 * mean) - 10**2
    assert found[0].level == pytest.approx(10 * math.log10(energy))
    assert found[0].speed == pytest.approx(1004.0 / 60.0)
    assert found[1].level == pytest.approx(21.0 - 1.2563, abs=1e-4)
    assert all(each.from_ramp and each.run == "up" for each in found)
    trusted = np.array([True, True, True, True, False])
    assert ramp_points(speeds, levels, run="up", trusted=trusted)[1].speed == pytest.approx(1012.0 / 60.0)
    with pytest.raises(BadInput, match="frames of a ramp"):
        ramp_points(speeds[:2], levels[:2], run="up")


def test_resonances_are_pooled_from_ramps() -> None:
    draw = np.random.default_rng(12)
    quiet = [ramp(PLAIN, draw) for _ in range(3)]
    loud = [ramp(random_fan(draw), draw) for _ in range(4)]
    assert pooled_resonances([]) == Resonances()
    assert pooled_resonances(quiet).amplitude < 0.6
    found = pooled_resonances(loud)
    assert 1.0 < found.amplitude < 4.0
    assert 40.0 < found.length * 60 < 200.0


def test_a_mounting_takes_well_under_a_second() -> None:
    draw = np.random.default_rng(13)
    points = [*dwells(INVERTED, EVEN, draw), *ramp(INVERTED, draw), *ramp(INVERTED, draw, name="down")]
    fit(points, trials=2000)
    start = time.process_time()
    curve = fit(points, trials=2000)
    assert time.process_time() - start < 1.0
    assert curve.noise.nbytes < 3_000_000
