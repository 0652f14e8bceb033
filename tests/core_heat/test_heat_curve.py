"""The curve of temperature difference against speed: formulas written out, coverage, rows, and what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.heat.heat_curve import GRID, HeatCurve, HeatPoint, fit_heat
from stillroom.core.row_speeds import RowSpeeds
from stillroom.errors import NotPossible, UnknownThing


def points(told: dict[float, float], u: float = 0.05) -> list[HeatPoint]:
    return [HeatPoint(rpm / 60.0, 0.0, delta, u, step=i) for i, (rpm, delta) in enumerate(told.items(), 1)]


def fit(told: list[HeatPoint], trials: int = 400, **options: object) -> HeatCurve:
    settings = {"identity": "m", "sources": {}} | options
    return fit_heat(told, trials=trials, **settings)  # type: ignore[arg-type]


def at(curve: HeatCurve, rpm: Array | float, part: Part = Part.CENTRAL) -> Array:
    return curve.rows(part, speeds=np.atleast_1d(np.asarray(rpm, dtype=np.float64)) / 60.0)


def test_expectation_and_spread_by_the_formulas_written_out() -> None:
    """Rasmussen & Williams (2.25), (2.26), every covariance written out element by element."""
    told = {600.0: 16.0, 900.0: 13.4, 1400.0: 11.5}
    curve = fit(points(told), trials=20_000)

    def kernel(one: float, two: float) -> float:
        d = math.sqrt(5.0) * abs(one - two) / 0.8
        smooth = 0.025**2 * (1.0 + d + d * d / 3.0) * math.exp(-d)
        return 9.0 + 0.15**2 * one * two + smooth

    n, y = np.array(list(told)), np.log(list(told.values()))
    x = np.log(n) - np.log(n).mean()
    middle = float(np.median(y + 0.45 * x))
    K = np.array([[kernel(a, b) for b in x] for a in x])
    K += np.diag((0.05 / np.array(list(told.values()))) ** 2)
    new = math.log(1100.0) - float(np.log(n).mean())
    k = np.array([kernel(new, b) for b in x])
    mean = middle - 0.45 * new + k @ np.linalg.solve(K, y - middle + 0.45 * x)
    sd = math.sqrt(kernel(new, new) - k @ np.linalg.solve(K, k))
    assert float(at(curve, 1100.0)[0, 0]) == pytest.approx(math.exp(mean), rel=2e-5)
    trials = at(curve, 1100.0, Part.TOTAL)[1:, 0]
    assert float(np.log(trials).std()) == pytest.approx(sd, rel=0.03)
    assert float(np.log(trials).mean()) == pytest.approx(mean, abs=4 * sd / math.sqrt(20_000))


def test_a_power_law_is_followed() -> None:
    told = {rpm: 12.0 * (rpm / 1000.0) ** -0.5 for rpm in (600.0, 900.0, 1300.0, 1800.0)}
    curve = fit(points(told, u=0.02))
    for rpm in (620.0, 750.0, 1100.0, 1700.0):
        assert float(at(curve, rpm)[0, 0]) == pytest.approx(12.0 * (rpm / 1000.0) ** -0.5, abs=0.03)


@pytest.mark.parametrize("steps", [1, 2, 3])
def test_intervals_cover_radiators_of_every_kind(steps: int) -> None:
    """ΔT = 300 (R₀ + c Q^(−m)), Q ∝ N^1.05, R₀ a tenth to two thirds of R: 95 % intervals hold in 93 % or more."""
    rng = np.random.default_rng(steps)
    inside = count = 0
    for _ in range(150):
        share, m = rng.uniform(0.1, 0.67), rng.uniform(0.35, 0.75)
        level, speeds = rng.uniform(8.0, 16.0), np.sort(rng.uniform(700.0, 1700.0, steps))

        def truth(rpm: Array, share: float = share, m: float = m, level: float = level) -> Array:
            return np.asarray(level * (share + (1.0 - share) * (rpm / 1100.0) ** (-1.05 * m)))

        u = rng.uniform(0.02, 0.1, steps)
        read = truth(speeds) + u * rng.standard_normal(steps)
        told = [HeatPoint(n / 60.0, 0.0, d, s) for n, d, s in zip(speeds, read, u, strict=True)]
        curve = fit(told, trials=1000)
        ask = np.exp(rng.uniform(*np.log(curve.reach), 4)) * 60.0
        low, high = np.quantile(at(curve, ask, Part.TOTAL)[1:], [0.025, 0.975], axis=0)
        inside += int(np.count_nonzero((truth(ask) >= low) & (truth(ask) <= high)))
        count += 4
    assert inside / count >= 0.93


def test_one_speed_answers_within_15_percent_and_several_to_10_percent_beyond() -> None:
    one = fit(points({1000.0: 12.0}))
    assert one.reach == pytest.approx((850.0 / 60.0, 1150.0 / 60.0))
    assert float(at(one, 1150.0)[0, 0]) == pytest.approx(12.0 * 1.15**-0.45, rel=1e-3)
    for rpm in (845.0, 1155.0):
        with pytest.raises(NotPossible, match="heat measured at 1,000 rpm"):
            at(one, rpm)
    two = fit(points({1000.0: 12.0, 1500.0: 10.2}))
    assert two.reach == pytest.approx((900.0 / 60.0, 1650.0 / 60.0))
    with pytest.raises(NotPossible, match=r"1,700 rpm: found heat measured from 1,000 to 1,500 rpm"):
        at(two, 1700.0)


def test_a_repeat_of_the_only_setting_stays_one_setting() -> None:
    assert fit([*points({1000.0: 12.0}), *points({1001.0: 12.1})]).reach[0] == pytest.approx(850.0 / 60.0)


def test_a_forecast_with_a_larger_u_counts_less() -> None:
    told = [*points({1000.0: 12.0}, u=0.03), HeatPoint(1000.0 / 60.0, 0.0, 12.6, 0.3, is_forecast=True)]
    assert float(at(fit(told), 1000.0)[0, 0]) == pytest.approx(12.006, abs=0.005)


def test_an_error_of_speed_counts_by_the_slope() -> None:
    sure = fit([HeatPoint(20.0, 0.0, 12.0, 0.01)], trials=4000)
    unsure = fit([HeatPoint(20.0, 0.4, 12.0, 0.01)], trials=4000)
    spread = float(at(unsure, 1200.0, Part.TOTAL)[1:, 0].std())
    assert spread == pytest.approx(math.hypot(0.45 * 0.02 * 12.0, 0.01), rel=0.05)
    assert float(at(sure, 1200.0, Part.TOTAL)[1:, 0].std()) == pytest.approx(0.01, rel=0.2)


SOURCES = {"probe/heat-1/hot": 0.1, "heater/heat-1": 0.06}


def test_what_is_shared_cancels_between_fans() -> None:
    """A probe that reads 0.1 K too much moves both fans by the same draws; the difference keeps its own noise only."""
    first = fit(points({1000.0: 12.0, 1500.0: 10.0}, u=0.01), trials=2000, sources=SOURCES)
    second = fit(points({1000.0: 13.0, 1500.0: 11.0}, u=0.01), trials=2000, identity="n", sources=SOURCES)
    one, two = (at(each, 1200.0, Part.SHARED)[3:, 0] for each in (first, second))
    assert float(one.std()) == pytest.approx(math.hypot(0.1, 0.06), rel=0.05)
    assert float((one - two).std()) < 0.012
    assert float((at(first, 1200.0, Part.TOTAL) - at(second, 1200.0, Part.TOTAL))[3:, 0].std()) < 0.12


def test_rows_in_another_order_and_with_sources_that_are_not_its_own() -> None:
    curve = fit(points({1000.0: 12.0}), trials=50, sources=SOURCES)
    rows = curve.rows(Part.TOTAL, ("other", "probe/heat-1/hot", "heater/heat-1"), np.array([1000.0 / 60.0]))
    assert rows.shape == (1 + 3 + 50, 1)
    assert rows[:4, 0] - rows[0, 0] == pytest.approx([0.0, 0.0, 0.1, 0.06], abs=1e-4)
    with pytest.raises(UnknownThing, match="shared source"):
        curve.rows(Part.TOTAL, ("other",), None)
    assert curve.rows(Part.CENTRAL).shape == (1, GRID)
    draws = normal_draws("probe/heat-1/hot", 50), normal_draws("heater/heat-1", 50)
    shared = curve.rows(Part.SHARED, speeds=np.array([1000.0 / 60.0]))[3:, 0]
    assert shared - 12.0 == pytest.approx(0.1 * draws[0] + 0.06 * draws[1], abs=1e-3)


def row_speeds(curve: HeatCurve, rpm: float, move: float, full: bool = False) -> RowSpeeds:
    """A noise limit: its microphone moves the speed by `move` rpm, and its trials by the same draws."""
    draws = normal_draws("microphone", curve.trials)
    speeds = np.concatenate([[rpm, rpm + move], rpm + move * draws]) / 60.0
    return RowSpeeds(("microphone",), speeds, np.full(speeds.size, full))


def test_a_speed_of_its_own_in_each_row() -> None:
    """Row by row the same as asking for that speed and taking that row."""
    curve = fit(points({900.0: 12.6, 1300.0: 10.9}), trials=200, sources=SOURCES)
    sources = ("microphone", *sorted(SOURCES))
    limit = row_speeds(curve, 1100.0, 20.0)
    rows = curve.rows(Part.TOTAL, sources, limit)
    assert rows.shape == (1 + 3 + 200, 1)
    own, _ = limit.rows(sources)
    one_by_one = [float(curve.rows(Part.TOTAL, sources, own[i : i + 1])[i, 0]) for i in range(own.size)]
    assert rows[:, 0] == pytest.approx(one_by_one, rel=1e-12)
    assert curve.rows(Part.CENTRAL, sources, limit)[0, 0] == rows[0, 0]


def test_rows_at_full_setting_take_this_mounting_s_full_speed() -> None:
    curve = fit(points({900.0: 12.6, 1300.0: 10.9}), trials=20)
    tops = row_speeds(curve, 1250.0, 0.0, full=True)
    rows = curve.rows(Part.TOTAL, ("microphone",), tops, full_speed=1300.0 / 60.0)
    assert rows[0, 0] == pytest.approx(at(curve, 1300.0)[0, 0])
    assert curve.rows(Part.TOTAL, ("microphone",), tops)[0, 0] == pytest.approx(at(curve, 1250.0)[0, 0])


def test_trials_follow_the_ends_on_but_the_central_speed_must_be_within() -> None:
    curve = fit(points({1000.0: 12.0}), trials=100)
    rows = curve.rows(Part.TOTAL, ("microphone",), row_speeds(curve, 1145.0, 20.0))
    assert np.all(np.isfinite(rows))
    assert np.all((rows > 10.0) & (rows < 13.0))
    with pytest.raises(NotPossible, match="temperature difference at 1,200 rpm"):
        curve.rows(Part.TOTAL, ("microphone",), row_speeds(curve, 1200.0, 20.0))


def test_draws_go_by_the_mounting() -> None:
    told = points({900.0: 12.6, 1300.0: 10.9})
    assert np.array_equal(fit(told).noise, fit(list(reversed(told))).noise)
    assert not np.array_equal(fit(told).noise, fit(told, identity="n").noise)
    assert np.array_equal(fit(told, trials=100).noise, fit(told, trials=400).noise[:100])


@pytest.mark.parametrize("told", [[], [HeatPoint(20.0, 0.0, -1.0, 0.1)], [HeatPoint(0.0, 0.0, 12.0, 0.1)]])
def test_what_is_no_heat_run_is_refused(told: list[HeatPoint]) -> None:
    with pytest.raises(NotPossible, match="temperature difference against speed"):
        fit(told)
