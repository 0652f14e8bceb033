"""Trials against the examples of JCGM 101, TN 1900 and others; independence of workers."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from scipy import special, stats

from stillroom.core.draws import normal_draws
from stillroom.core.montecarlo import Distribution, Source, propagate
from stillroom.errors import NotPossible, OutOfRange

M = 1_000_000
RECTANGULAR = Distribution.RECTANGULAR


def one_quantity(function, sources, trials=M, **options):
    """Propagate a function of draws for a single point."""
    table = {name: Source(f"example/{name}", shape) for name, shape in sources.items()}
    return propagate(lambda _, draw: {"y": function(draw)}, 1, table, trials, **options)["y"]


def probability(draw):
    """The rectangular number in 0 … 1 that a rectangular draw stands for."""
    return (draw / np.sqrt(3.0) + 1.0) / 2.0


def total(draw):
    return sum(draw.values())


def test_sum_of_four_normal(published):
    got = one_quantity(total, dict.fromkeys("abcd", Distribution.NORMAL))
    published("C167").meets(got.high)
    published("C167").meets(-got.low)
    assert got.u == pytest.approx([2.0], abs=0.006)


def test_sum_of_four_rectangular(published):
    got = one_quantity(total, dict.fromkeys("abcd", RECTANGULAR))
    published("C168").meets(got.high)
    published("C168").meets(-got.low)


def test_one_rectangular_ten_times_as_wide(published):
    got = one_quantity(lambda d: total(d) + 9.0 * d["d"], dict.fromkeys("abcd", RECTANGULAR))
    published("C169").meets(got.u)
    published("C170").meets(got.high)


def test_mass_calibration_where_first_order_fails():
    """JCGM 101, 9.3: u = 0.0754 mg, interval [1.0834, 1.3825] mg (from memory)."""

    def mass(d):
        rho_a = 1.2 + 0.1 / np.sqrt(3.0) * d["rho_a"]
        rho_W = 8000.0 + 1000.0 / np.sqrt(3.0) * d["rho_W"]
        rho_R = 8000.0 + 50.0 / np.sqrt(3.0) * d["rho_R"]
        m = 100_000.0 + 0.05 * d["m"] + 1.234 + 0.02 * d["dm"]
        return m * (1.0 + (rho_a - 1.2) * (1.0 / rho_W - 1.0 / rho_R)) - 100_000.0

    shapes = dict.fromkeys(("rho_a", "rho_W", "rho_R"), RECTANGULAR)
    got = one_quantity(mass, shapes | dict.fromkeys(("m", "dm"), Distribution.NORMAL))
    assert got.mean == pytest.approx([1.2341], abs=3e-4)
    assert got.u == pytest.approx([0.0754], abs=2e-4)
    assert [got.low[0], got.high[0]] == pytest.approx([1.0834, 1.3825], abs=2e-3)


@pytest.mark.parametrize("x", [0.0, 0.010, 0.050])
def test_comparison_loss_with_its_exact_distribution(x):
    """JCGM 101, 9.4: Y = X₁² + X₂². Exact: u² times a noncentral χ² with 2 degrees of freedom."""
    u = 0.005
    got = one_quantity(
        lambda d: (x + u * d["x1"]) ** 2 + (u * d["x2"]) ** 2,
        dict.fromkeys(("x1", "x2"), Distribution.NORMAL),
    )
    exact = stats.ncx2(2, (x / u) ** 2) if x else stats.chi2(2)
    assert got.mean == pytest.approx([u**2 * exact.mean()], rel=5e-3)
    assert got.u == pytest.approx([u**2 * exact.std()], rel=5e-3)
    assert got.high == pytest.approx([u**2 * exact.ppf(0.975)], rel=1e-2)
    assert got.low == pytest.approx([u**2 * exact.ppf(0.025)], rel=2e-2)


def test_gauge_block(published):
    """JCGM 101, 9.5, with its t, rectangular, arcsine and curvilinear trapezoidal inputs."""

    def student(d, dof, scale):
        return scale * special.stdtrit(dof, probability(d))

    def trapezoid(d, e, b, inexact):  # 6.4.3.4, symmetric about 0
        edge = b - inexact + 2.0 * inexact * probability(d)
        return edge * (2.0 * probability(e) - 1.0)

    def length(d):
        l_s = 50_000_623.0 + student(d["l_s"], 18, 25.0)
        diff = 215.0 + student(d["d0"], 24, 6.0) + student(d["d1"], 5, 4.0) + student(d["d2"], 8, 7.0)
        theta = (
            -0.1
            + 0.2 * special.ndtri(probability(d["theta"]))
            + 0.5 * np.sin(np.pi * (probability(d["cyclic"]) - 0.5))
        )
        alpha_s = 11.5e-6 + 2e-6 / np.sqrt(3.0) * d["alpha_s"]
        d_alpha = trapezoid(d["a1"], d["a2"], 1e-6, 0.1e-6)
        d_theta = trapezoid(d["t1"], d["t2"], 0.050, 0.025)
        return l_s + diff - l_s * (d_alpha * theta + alpha_s * d_theta) - 50e6

    names = ("l_s", "d0", "d1", "d2", "theta", "cyclic", "alpha_s", "a1", "a2", "t1", "t2")
    got = one_quantity(length, dict.fromkeys(names, RECTANGULAR))
    published("C175").meets(got.u)
    assert got.mean == pytest.approx([838.0], abs=0.2)


def test_step_attenuator(published):
    """NIST TN 1900, E11; inputs as in a public test suite that cites it."""
    arcs = {"m": 0.02828, "d": 0.00198, "k": 0.0029698}

    def loss(d):
        t = special.stdtrit(3, probability(d["s"])) / np.sqrt(3.0)
        value = 30.0402 + 0.0091 * t + 0.003 + 0.0025 * d["ls"] + 0.002 * (d["0b"] - d["0a"])
        value = value + 0.0003 * (d["ib"] - d["ia"])
        for name, half in arcs.items():
            value = value + half * np.sin(np.pi * (probability(d[name]) - 0.5))
        return value

    shapes = dict.fromkeys(("s", "ls", "ia", "ib", *arcs), RECTANGULAR)
    got = one_quantity(loss, shapes | dict.fromkeys(("0a", "0b"), Distribution.NORMAL))
    published("C178").meets(got.mean)
    assert got.u == pytest.approx([0.0224], abs=5e-4)
    assert [got.low[0], got.high[0]] == pytest.approx([30.006, 30.081], abs=2e-3)


def test_logarithm_over_a_wide_rectangle(published):
    got = one_quantity(lambda d: np.log(0.1 + probability(d["x"])), {"x": RECTANGULAR})
    published("C181").meets(got.mean)
    published("C182").meets(got.u)
    # exact: the quantiles of ln X
    assert [got.low[0], got.high[0]] == pytest.approx([np.log(0.125), np.log(1.075)], abs=5e-3)


POINTS = 5
SOURCES = {
    "gain": Source("gauge/gain"),
    "offset": Source("gauge/offset", RECTANGULAR),
    "noise": Source([f"point {i}" for i in range(POINTS)]),
}


def reading(points, draw):
    """A model that a process can be given."""
    value = np.arange(1.0, POINTS + 1.0)[points, np.newaxis]
    y = value * (1.0 + 0.1 * draw["gain"]) + 0.2 * draw["offset"] + 0.3 * draw["noise"]
    return {"y": y, "shared": 0.0 * value + draw["gain"]}


def test_result_is_the_same_on_any_number_of_workers_to_the_bit():
    here = propagate(reading, POINTS, SOURCES, 40_000)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        for parts in (2, 5):
            there = propagate(reading, POINTS, SOURCES, 40_000, executor=pool, parts=parts)
            for name in ("y", "shared"):
                for column in ("mean", "u", "low", "high"):
                    np.testing.assert_array_equal(
                        getattr(there[name], column), getattr(here[name], column), err_msg=name
                    )


def test_shared_draws_are_common_and_own_ones_are_not():
    got = propagate(reading, POINTS, SOURCES, 100_000)
    assert np.ptp(got["shared"].mean) == 0.0
    value = np.arange(1.0, POINTS + 1.0)
    np.testing.assert_allclose(got["y"].u, np.hypot(0.1 * value, np.hypot(0.2, 0.3)), rtol=0.01)
    assert np.ptp(got["y"].mean - value * (1.0 + 0.1 * got["shared"].mean[0])) > 1e-5


def test_points_do_not_depend_on_their_neighbours():
    alone = {name: each if each.shared else Source([each.identity[3]]) for name, each in SOURCES.items()}
    one = propagate(lambda _, draw: reading(slice(3, 4), draw), 1, alone, 40_000)
    assert one["y"].high[0] == propagate(reading, POINTS, SOURCES, 40_000)["y"].high[3]


def test_summaries_of_few_trials_written_out():
    got = one_quantity(lambda d: 3.0 + d["x"], {"x": Distribution.NORMAL}, 60)
    y = 3.0 + normal_draws("example/x", 60)
    np.testing.assert_allclose(got.mean, [y.mean()], rtol=1e-14)  # JCGM 101, (16)
    np.testing.assert_allclose(got.u, [y.std(ddof=1)], rtol=1e-13)  # JCGM 101, (17)
    assert [got.low[0], got.high[0]] == [np.sort(y)[1], np.sort(y)[58]]  # q = 57, r = 2


def test_what_propagation_refuses():
    with pytest.raises(NotPossible, match="no points"):
        propagate(reading, 0, {}, 1000)
    with pytest.raises(OutOfRange, match="number of trials"):
        propagate(reading, POINTS, SOURCES, 5)
    with pytest.raises(OutOfRange, match="source 'noise'"):
        propagate(reading, POINTS + 1, SOURCES, 1000)
    with pytest.raises(NotPossible, match="trials of y"):
        one_quantity(lambda d: np.where(d["x"] > 4.0, np.nan, 1.0), {"x": Distribution.NORMAL}, 100_000)
