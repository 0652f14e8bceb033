"""Draws with an identity, and intervals from them."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from stillroom.core import draws
from stillroom.core.intervals import coverage_interval, coverage_ranks
from stillroom.errors import OutOfRange


def test_inverse_normal_follows_scipy_to_rounding():
    tails = np.concatenate([np.geomspace(5e-324, 0.5, 50_001), 1.0 - np.geomspace(2e-16, 0.5, 50_001)])
    p = np.concatenate([tails, draws.Stream("probabilities").probabilities(200_000)])
    p = p[(p > 0.0) & (p < 1.0)]
    np.testing.assert_allclose(draws.inverse_normal(p), special.ndtri(p), rtol=1.5e-15, atol=1e-16)


def test_inverse_normal_at_printed_points():
    # Wichura (1988) gives these in the text of AS 241 (from memory); scipy agrees
    got = draws.inverse_normal(np.array([0.25, 1e-3, 1e-20]))
    np.testing.assert_allclose(got, [-0.6744897501960817, -3.090232306167814, -9.262340089798408], rtol=2e-15)


def test_inverse_normal_has_no_step_where_its_branches_meet():
    for p in (0.5 - 0.425, 0.5 + 0.425, np.exp(-25.0)):
        around = np.array([np.nextafter(p, 0.0), p, np.nextafter(p, 1.0)])
        z = draws.inverse_normal(around)
        np.testing.assert_allclose(z, z[1], rtol=2e-15)


@given(st.floats(1e-300, 0.5))
def test_inverse_normal_is_odd(p):
    if 1.0 - (1.0 - p) == p:
        a, b = draws.inverse_normal(np.array([p, 1.0 - p]))
        assert a == -b


@pytest.mark.parametrize("bad", [0.0, 1.0, -0.1, float("nan")])
def test_inverse_normal_refuses_what_is_no_probability(bad):
    with pytest.raises(OutOfRange, match="probability") as caught:
        draws.inverse_normal(np.array([0.5, bad]))
    assert caught.value.place == "value 1"


def test_the_same_identity_gives_the_same_draws_in_any_order():
    first = draws.normal_draws("barometer/offset", 50_000)
    draws.normal_draws("something else", 10)
    np.testing.assert_array_equal(draws.normal_draws("barometer/offset", 50_000), first)
    np.testing.assert_array_equal(draws.normal_draws("barometer/offset", 7), first[:7])
    stream = draws.Stream("barometer/offset")
    pieces = [stream.normal(n) for n in (1, 3, 16_384, 20_000, 13_612)]
    np.testing.assert_array_equal(np.concatenate(pieces), first)


def test_draws_are_the_same_in_another_process():
    code = "from stillroom.core.draws import normal_draws as d; print(*[x.hex() for x in d('nozzle/N25', 3)])"
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stdout.split() == [x.hex() for x in draws.normal_draws("nozzle/N25", 3).tolist()]


def test_frozen_draws():
    """Numbers of our own code (not independently validated): a lab's stored results hang on them."""
    got = draws.normal_draws("barometer/offset", 3)
    np.testing.assert_allclose(got, FROZEN, rtol=1e-13)


FROZEN = [1.040137864681945, -1.1142975916937372, -0.3932927341340744]


def test_rows_do_not_depend_on_how_many_there_are():
    block = draws.normal_block("point", 40, 300)
    np.testing.assert_array_equal(draws.normal_block("point", 3, 200), block[:3, :200])
    np.testing.assert_array_equal(draws.normal_draws("point", 300), block[0])


def test_rows_share_no_part_of_a_stream():
    block = draws.normal_block("point", 20, 5_000)
    assert np.unique(block).size == block.size


def test_draws_differ_between_identities_rows_and_seeds():
    base = draws.normal_draws("a", 100_000)
    others = [draws.normal_draws("b", 100_000), draws.normal_draws("a", 100_000, seed=1)]
    others.append(draws.normal_block("a", 2, 100_000)[1])
    for other in others:
        assert abs(np.corrcoef(base, other)[0, 1]) < 5.0 / np.sqrt(100_000)


def test_draws_have_their_distribution():
    n = 1_000_000
    normal, flat = draws.normal_draws("shape", n), draws.uniform_draws("shape", n)
    assert stats.kstest(normal, "norm").pvalue > 1e-3
    assert stats.kstest(flat, "uniform", args=(-np.sqrt(3.0), 2.0 * np.sqrt(3.0))).pvalue > 1e-3
    for each in (normal, flat):
        assert abs(each.mean()) < 4.0 / np.sqrt(n)
        assert abs(each.var() - 1.0) < 4.0 * np.sqrt(2.0 / n)
    assert np.abs(flat).max() <= np.sqrt(3.0)


def test_draws_refuse_a_negative_number():
    for call in (
        lambda: draws.normal_draws("a", -1),
        lambda: draws.normal_block("a", -1, 3),
        lambda: draws.Stream("a", -1),
    ):
        with pytest.raises(OutOfRange, match="draws of 'a'"):
            call()


def test_ranks_of_the_standard():
    # JCGM 101, 7.7.2: M = 10⁶, p = 0.95 gives q = 950 000 and r = 25 000
    assert coverage_ranks(1_000_000) == (24_999, 974_999)
    assert coverage_ranks(100, 0.9) == (4, 94)


@given(st.integers(40, 30_000), st.sampled_from([0.5, 0.68, 0.9, 0.95]), st.integers(0, 3))
def test_interval_is_what_sorting_gives(number, probability, kind):
    rng = np.random.default_rng(number)
    make = (rng.standard_normal, rng.standard_cauchy, lambda n: rng.integers(0, 4, n) * 1.0, np.arange)
    trials = np.asarray(make[kind](number), dtype=float)
    low, high = coverage_ranks(number, probability)
    got = coverage_interval(np.stack([trials, -trials], axis=1), probability, axis=0)
    ordered = np.sort(trials)
    assert (got[0][0], got[1][0]) == (ordered[low], ordered[high])
    ordered = np.sort(-trials)
    assert (got[0][1], got[1][1]) == (ordered[low], ordered[high])


def test_interval_of_normal_draws():
    low, high = coverage_interval(draws.normal_draws("interval", 1_000_000))
    np.testing.assert_allclose([low, high], [-1.959964, 1.959964], atol=0.01)


def test_interval_refuses_too_few_trials_and_what_is_no_number():
    with pytest.raises(OutOfRange, match="number of trials"):
        coverage_interval(np.zeros(5), 0.95)
    with pytest.raises(OutOfRange, match="coverage probability"):
        coverage_interval(np.zeros(50), 1.0)
    for size in (100, 20_000):
        bad = np.zeros(size)
        bad[size // 2] = np.nan
        with pytest.raises(OutOfRange, match="trials"):
            coverage_interval(bad)
