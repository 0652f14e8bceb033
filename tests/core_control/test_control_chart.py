"""Control charts against the handbook's example, published run lengths and simulation."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import t as student

from stillroom.core.control_chart import (
    ESTABLISHED,
    EWMA_WIDTH,
    FULL_BASE,
    WEIGHT,
    Base,
    Check,
    Signal,
    ewma,
    ewma_share,
    judge,
)
from stillroom.errors import BadInput, OutOfRange

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, example: λ = 0.3, EWMA₀ = 50, s = 2.0539. Data,
# averages and limits as several independent programs' own tests quote the page; the page itself was not read.
HANDBOOK = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
            52.6, 52.4, 53.6, 52.1)  # fmt: skip
AVERAGES = (50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
            49.38, 49.92, 50.73, 51.23, 51.94, 51.99)  # fmt: skip
SD, UPPER, LOWER = 2.0539, 52.5884, 47.4115

KNOWN = Base(0.0, 1.0)


def test_the_handbooks_moving_average() -> None:
    assert np.round(ewma(HANDBOOK, 50.0, 0.3), 2) == pytest.approx(AVERAGES, abs=0.005)


def test_the_handbooks_limits() -> None:
    # Its factor 0.4201 is √(0.3/1.7) rounded: 50 ± 3 · 0.4201 · 2.0539, the lower one cut, not rounded.
    reach = 3.0 * math.sqrt(ewma_share(1000, 0.3)) * SD
    assert 50.0 + reach == pytest.approx(UPPER, abs=2e-4)
    assert 50.0 - reach == pytest.approx(LOWER, abs=2e-4)
    assert math.sqrt(ewma_share(1000, 0.3)) == pytest.approx(0.4201, abs=5e-5)


def test_the_exact_limits_begin_at_the_weight() -> None:
    assert ewma_share(1, 0.2) == pytest.approx(0.2**2)  # one value, weighted by λ
    assert ewma_share(2, 0.2) == pytest.approx(0.2**2 * (1.0 + 0.8**2))
    assert ewma_share(5, 1.0) == pytest.approx(1.0)


def test_a_prediction_keeps_the_risk_of_three_standard_deviations() -> None:
    values = (3.0, 5.0, 4.0, 6.0, 2.0)
    base = Base.of(values)
    assert (base.centre, base.sd, base.count) == pytest.approx((4.0, math.sqrt(2.5), 5))
    quantile = student.ppf(ndtr(3.0), 4)
    assert base.reach(3.0) == pytest.approx(quantile * math.sqrt(2.5) * math.sqrt(1.2))
    assert Base(4.0, 2.0).reach(3.0) == pytest.approx(6.0)
    assert Base(4.0, 2.0, 30.0).reach(3.0) == pytest.approx(3.33 * 2.0, rel=0.01)  # as the module says
    assert Base(4.0, 2.0, 10.0).reach(3.0) == pytest.approx(4.3 * 2.0, rel=0.01)


def test_limits_are_never_narrower_than_two_standard_uncertainties_of_the_readings() -> None:
    base = Base.of([1.0, 1.0001, 0.9999], reading_u=0.3)
    assert base.reach(3.0) >= 0.6
    assert Base.of([1.0] * 5).sd > 0.0


def test_nothing_is_established_before_ten_checks() -> None:
    checks = judge([1.0, 9.0, -5.0, 100.0, 1.0, 2.0, 3.0, 1.0, 2.0, 3.0])
    assert [each.limits for each in checks] == [None] * ESTABLISHED
    assert not any(each.signals for each in checks)


def test_the_base_grows_to_thirty_and_a_limit_never_moves_under_a_check() -> None:
    values = np.random.default_rng(3).normal(5.0, 0.1, 60)
    checks = judge(list(values))
    counts = [each.limits.base.count for each in checks if each.limits]
    assert counts[:3] == [10, 11, 12]
    assert counts[-1] == FULL_BASE
    for length in (11, 20, 45):
        assert judge(list(values[:length])) == checks[:length]


def test_a_check_outside_its_limits_does_not_join_the_base() -> None:
    values = [5.0, 5.1, 4.9, 5.0, 5.05, 4.95, 5.1, 4.9, 5.0, 5.0, 9.0, 5.0]
    checks = judge(values)
    assert checks[10].signals[0] is Signal.OUTSIDE
    last = checks[11].limits
    assert last is not None
    assert last.base.count == 10


def run_of(values: list[float]) -> tuple[Check, ...]:
    return judge(values, known=KNOWN)


def test_two_of_three_must_lie_on_one_side() -> None:
    assert Signal.TWO_OF_THREE in run_of([2.1, 0.0, 2.2])[2].signals
    assert Signal.TWO_OF_THREE in run_of([-2.1, -2.2])[1].signals
    assert Signal.TWO_OF_THREE not in run_of([2.1, -2.2, 0.0])[2].signals
    assert Signal.TWO_OF_THREE not in run_of([2.1, 2.2, 0.0])[2].signals  # the check itself must lie there
    assert Signal.TWO_OF_THREE not in run_of([2.1, 0.0, 0.0, 2.2])[3].signals


def test_a_small_lasting_shift_is_seen_by_the_average_alone() -> None:
    checks = run_of([1.2] * 20)
    assert {signal for each in checks for signal in each.signals} == {Signal.EWMA}
    assert Signal.OUTSIDE in run_of([3.1])[0].signals


@pytest.mark.parametrize("bad", [[1.0, math.nan], [math.inf]])
def test_what_is_no_number_is_refused(bad: list[float]) -> None:
    with pytest.raises(BadInput):
        judge(bad)
    with pytest.raises(OutOfRange):
        Base.of([1.0])
    with pytest.raises(OutOfRange):
        ewma([1.0], 0.0, 0.0)


# --- run lengths -------------------------------------------------------------------------------------------


def integral_equation(shift: float) -> float:
    """Average run length of an EWMA with fixed limits, by Crowder's integral equation (1987), 60 Gauss nodes."""
    reach = EWMA_WIDTH * math.sqrt(WEIGHT / (2.0 - WEIGHT))
    nodes, weights = np.polynomial.legendre.leggauss(60)
    at, by = reach * nodes, reach * weights
    step = (at[None, :] - (1.0 - WEIGHT) * at[:, None]) / WEIGHT - shift
    kernel = np.exp(-0.5 * step**2) / math.sqrt(2.0 * math.pi) / WEIGHT * by[None, :]
    length = np.linalg.solve(np.eye(60) - kernel, np.ones(60))
    first = np.exp(-0.5 * (at / WEIGHT - shift) ** 2) / math.sqrt(2.0 * math.pi) / WEIGHT * by
    return float(1.0 + first @ length)


# Lucas & Saccucci (1990), table 3, λ = 0.20, L = 2.962 (from memory): {shift in s: average run length}
PUBLISHED = {0.0: 500.0, 0.25: 150.0, 0.5: 41.8, 0.75: 18.2, 1.0: 10.5, 1.5: 5.50, 2.0: 3.70, 3.0: 2.36}


@pytest.mark.parametrize(("shift", "published"), PUBLISHED.items())
def test_the_chosen_weight_and_width_have_the_published_run_lengths(shift: float, published: float) -> None:
    assert integral_equation(shift) == pytest.approx(published, rel=0.012)


def surviving(shift: float, length: int) -> np.ndarray:
    """Probability that an EWMA with exact limits has not signalled after 1 … `length` checks, on a fine grid."""
    limits = [EWMA_WIDTH * math.sqrt(ewma_share(i, WEIGHT)) for i in range(1, length + 1)]
    edges = np.linspace(-limits[-1], limits[-1], 801)
    middle = (edges[1:] + edges[:-1]) / 2.0
    steps = ndtr((edges[None, :] - (1.0 - WEIGHT) * middle[:, None]) / WEIGHT - shift)
    move = steps[:, 1:] - steps[:, :-1]
    start = ndtr(edges / WEIGHT - shift)
    now = (start[1:] - start[:-1]) * (np.abs(middle) <= limits[0])
    left = [float(now.sum())]
    for limit in limits[1:]:
        now = (now @ move) * (np.abs(middle) <= limit)
        left.append(float(now.sum()))
    return np.array(left)


def first_signal(values: np.ndarray, signal: Signal) -> int:
    """How many checks it takes to the first such signal; one more than there are where none comes."""
    checks = judge(list(values), known=KNOWN)
    return next((i for i, each in enumerate(checks, 1) if signal in each.signals), len(values) + 1)


@pytest.mark.parametrize("shift", [0.5, 1.0, 2.0])
def test_simulated_run_lengths_of_the_average(shift: float) -> None:
    """The code's own signals against the distribution worked out on a grid: mean of min(run length, 60)."""
    rng, rounds, length = np.random.default_rng(int(10 * shift)), 600, 60
    lengths = [first_signal(shift + rng.standard_normal(length), Signal.EWMA) for _ in range(rounds)]
    expected = 1.0 + float(surviving(shift, length - 1).sum())
    cut = np.minimum(lengths, length)
    assert cut.mean() == pytest.approx(expected, abs=4.0 * cut.std() / math.sqrt(rounds) + 0.01)


def zone_chain() -> float:
    """Average run length of the rules "1 beyond 3 s" and "2 of 3 beyond 2 s", as a Markov chain over two checks."""
    inside, zone = 2.0 * ndtr(2.0) - 1.0, float(ndtr(3.0) - ndtr(2.0))
    states = list(itertools.product((0, 1, -1), repeat=2))
    move = np.zeros((9, 9))
    for row, (before, last) in enumerate(states):
        for now, chance in ((0, inside), (1, zone), (-1, zone)):
            if not (now and now in (before, last)):
                move[row, states.index((last, now))] += chance
    return float(np.linalg.solve(np.eye(9) - move, np.ones(9))[states.index((0, 0))])


def test_run_length_of_the_two_shewhart_rules_together() -> None:
    """Champ & Woodall (1987), table 1: 370.40 for 3 s alone, 225.44 with 2 of 3 (from memory)."""
    assert 1.0 / (2.0 * ndtr(-3.0)) == pytest.approx(370.40, abs=0.01)
    assert zone_chain() == pytest.approx(225.44, abs=0.05)
    values = np.random.default_rng(11).standard_normal(120_000)
    checks = [each for part in np.split(values, 60) for each in judge(list(part), known=KNOWN)]
    outside = np.mean([Signal.OUTSIDE in each.signals for each in checks])
    assert outside == pytest.approx(2.0 * ndtr(-3.0), abs=4.0 * math.sqrt(0.0027 / len(checks)))


def test_false_signals_are_as_rare_with_a_base_period_of_ten_as_with_known_limits() -> None:
    """0.27 % outside, about 0.3 % by two of three, at most 0.3 % by the average: not ten times as many."""
    rng = np.random.default_rng(5)
    checks = [each for _ in range(1500) for each in judge(list(rng.standard_normal(30))) if each.limits]
    share = {signal: float(np.mean([signal in each.signals for each in checks])) for signal in Signal}
    assert share[Signal.OUTSIDE] == pytest.approx(0.0027, abs=0.0013)
    assert share[Signal.TWO_OF_THREE] < 0.005
    assert share[Signal.EWMA] < 0.004
