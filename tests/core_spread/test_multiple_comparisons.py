"""Pairwise intervals, the set of possible bests and rank intervals, against tables and second routes."""

import time
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stillroom.core.intervals import coverage_interval
from stillroom.core.multiple import (
    Contest,
    Merit,
    PairDifferences,
    Verdict,
    compare_field,
    pair_differences,
    verdicts,
)
from stillroom.errors import BadInput

M = 2000


def contest(
    values: list[float], sd: float = 1.0, *, shared: float = 0.0, seed: int = 1, trials: int = M
) -> Contest:
    rng = np.random.default_rng(seed)
    centre = np.array(values)
    noise = sd * rng.normal(size=(len(values), trials)) + shared * rng.normal(size=trials)
    return Contest.of_values(centre, centre[:, None] + noise)


def pair(low: float, high: float, tie_low: float, tie_high: float) -> PairDifferences:
    """One pair with given intervals around their common middle."""
    middle = np.array([(low + high) / 2])
    ends = [np.array([each]) for each in (low, high, tie_low, tie_high)]
    return PairDifferences(np.array([0]), np.array([1]), middle, middle, *ends)


# -- differences and verdicts -------------------------------------------------------------------------


def test_intervals_of_differences_against_the_normal_distribution() -> None:
    pairs = pair_differences(contest([100.0, 97.0], 1.0, shared=5.0, trials=200_000))
    half, tie_half = 1.959964 * np.sqrt(2), 1.644854 * np.sqrt(2)  # standard normal table
    assert pairs.low[0] == pytest.approx(3.0 - half, abs=0.03)
    assert pairs.high[0] == pytest.approx(3.0 + half, abs=0.03)
    assert pairs.tie_low[0] == pytest.approx(3.0 - tie_half, abs=0.03)
    assert pairs.tie_high[0] == pytest.approx(3.0 + tie_half, abs=0.03)


def test_streamed_intervals_equal_the_plain_ones() -> None:
    field = contest([3.0, 1.0, 2.0, 5.0])
    pairs = pair_differences(field)
    for row, (one, other) in enumerate([(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]):
        assert (pairs.first[row], pairs.second[row]) == (one, other)
        low, high = coverage_interval(field.low[one] - field.low[other])
        assert (pairs.low[row], pairs.high[row]) == (low, high)
        assert pairs.least[row] == field.low_values[one] - field.low_values[other]


def test_verdicts_against_two_one_sided_t_tests() -> None:
    # Second route: SciPy's t tests on two samples with equal variances, pooled by hand into trials of t.
    rng = np.random.default_rng(4)
    seen: dict[Verdict, int] = {}
    for case in range(60):
        gap, margin = rng.uniform(-1.5, 1.5), rng.uniform(0.2, 1.6)
        first, second = rng.normal(gap, 0.8, 8), rng.normal(0.0, 0.8, 8)
        draws = stats.t(14).ppf((np.arange(20_000) + 0.5) / 20_000)
        error = np.sqrt((first.var(ddof=1) + second.var(ddof=1)) / 8)
        values = np.array([first.mean(), second.mean()])
        trials = np.stack([values[0] + error * draws, np.full(20_000, values[1])])
        (found,) = verdicts(
            pair_differences(Contest.of_values(values, trials)), np.array([margin]), Merit.MORE
        )
        against_zero = stats.ttest_ind(first, second).pvalue
        above = stats.ttest_ind(first, second - margin, alternative="greater").pvalue
        below = stats.ttest_ind(first, second + margin, alternative="less").pvalue
        difference = values[0] - values[1]
        if against_zero < 0.05 and abs(difference) > margin:
            expected = Verdict.AHEAD if difference > 0 else Verdict.BEHIND
        elif max(above, below) < 0.05:
            expected = Verdict.TIED
        else:
            expected = Verdict.NOT_RESOLVED
        assert found is expected, case
        seen[found] = seen.get(found, 0) + 1
    assert len(seen) == 4  # all four words were needed


@pytest.mark.parametrize(
    ("intervals", "margin", "merit", "expected"),
    [
        ((1.0, 5.0, 1.3, 4.7), 2.0, Merit.MORE, Verdict.AHEAD),
        ((1.0, 5.0, 1.3, 4.7), 2.0, Merit.LESS, Verdict.BEHIND),
        ((-5.0, -1.0, -4.7, -1.3), 2.0, Merit.LESS, Verdict.AHEAD),
        ((1.0, 5.0, 1.3, 4.7), 3.0, Merit.MORE, Verdict.NOT_RESOLVED),  # real, but not beyond the margin
        ((1.0, 5.0, 1.3, 4.7), 4.8, Merit.MORE, Verdict.TIED),  # real, and too small to matter
        ((-0.1, 5.0, 0.3, 4.6), 2.0, Merit.MORE, Verdict.NOT_RESOLVED),
        ((-2.2, 2.2, -1.8, 1.8), 2.0, Merit.MORE, Verdict.TIED),
        ((-2.2, 2.2, -1.8, 1.8), 1.8, Merit.MORE, Verdict.NOT_RESOLVED),  # touching is not inside
        ((-2.2, 2.2, -1.8, 1.8), 0.0, Merit.MORE, Verdict.NOT_RESOLVED),
    ],
)
def test_words_by_hand(
    intervals: tuple[float, float, float, float], margin: float, merit: Merit, expected: Verdict
) -> None:
    assert verdicts(pair(*intervals), np.array([margin]), merit) == [expected]


def test_a_margin_below_zero_is_refused() -> None:
    for margin in (-1.0, np.nan):
        with pytest.raises(BadInput):
            verdicts(pair(1.0, 5.0, 1.3, 4.7), np.array([margin]), Merit.MORE)


# -- all at once --------------------------------------------------------------------------------------


def test_rank_critical_value_against_the_studentized_range() -> None:
    # q(0.95; 3, 10) = 3.877, standard table. Our trials are divided by the spread of t, ν/(ν − 2), and a
    # range is in units of one mean, not of a difference.
    trials, dof = 200_000, 10
    rng = np.random.default_rng(8)
    spread = np.sqrt(dof / rng.chisquare(dof, trials))
    field = Contest.of_values(np.zeros(3), spread * rng.normal(size=(3, trials)))
    found = compare_field(field, Merit.MORE).rank_critical
    assert found * np.sqrt(2 * dof / (dof - 2)) == pytest.approx(3.877, rel=0.01)


@pytest.mark.parametrize("fans", [2, 5, 20])
def test_rank_critical_value_against_scipys_range_of_normals(fans: int) -> None:
    found = compare_field(contest([0.0] * fans, 1.0, trials=60_000), Merit.MORE).rank_critical
    expected = stats.studentized_range.ppf(0.95, fans, np.inf) / np.sqrt(2)
    assert found == pytest.approx(float(expected), rel=0.01)


def test_best_critical_value_against_dunnett() -> None:
    # Second route: SciPy's one-sided Dunnett test gives 5 % at our critical value. 4 groups of 4: 12 dof.
    trials, groups, each = 200_000, 4, 4
    dof = groups * (each - 1)
    rng = np.random.default_rng(9)
    spread = np.sqrt(dof / rng.chisquare(dof, trials))
    field = Contest.of_values(np.zeros(groups), spread * rng.normal(size=(groups, trials)))
    critical = compare_field(field, Merit.MORE).best_critical[0] * np.sqrt(dof / (dof - 2))
    residuals = np.array([-1.0, -1.0, 1.0, 1.0]) * np.sqrt(3 / 4)  # sample variance 1
    shift = critical * np.sqrt(2 / each)
    rivals = [residuals + shift, residuals, residuals]
    outcome = stats.dunnett(
        *rivals, control=residuals, alternative="greater", random_state=np.random.default_rng(1)
    )
    assert outcome.pvalue[0] == pytest.approx(0.05, abs=0.003)


def test_spreads_that_differ_are_taken_as_they_are() -> None:
    # Two good fans and one measured badly: the bad one can't be excluded, the second can.
    values = np.array([10.0, 7.0, 7.0])
    noise = np.random.default_rng(2).normal(size=(3, M)) * np.array([[0.5], [0.5], [4.0]])
    found = compare_field(Contest.of_values(values, values[:, None] + noise), Merit.MORE)
    assert found.best.tolist() == [True, False, True]
    assert (found.rank_from.tolist(), found.rank_to.tolist()) == ([1, 2, 1], [2, 3, 3])


def test_shared_errors_do_not_blur_the_field() -> None:
    found = compare_field(contest([10.0, 9.0, 8.0], 0.1, shared=20.0), Merit.MORE)
    assert found.best.tolist() == [True, False, False]
    assert found.rank_from.tolist() == found.rank_to.tolist() == [1, 2, 3]
    turned = compare_field(contest([10.0, 9.0, 8.0], 0.1, shared=20.0), Merit.LESS)
    assert turned.best.tolist() == [False, False, True]
    assert turned.rank_from.tolist() == turned.rank_to.tolist() == [3, 2, 1]


def test_one_fan_alone() -> None:
    field = contest([5.0])
    found = compare_field(field, Merit.MORE)
    assert (found.best.tolist(), found.rank_from.tolist(), found.rank_to.tolist()) == ([True], [1], [1])
    assert pair_differences(field).first.size == 0


def test_identical_trials_decide_by_their_difference() -> None:
    shift = np.random.default_rng(1).normal(size=M)
    values = np.array([3.0, 3.0, 2.0])
    found = compare_field(Contest.of_values(values, values[:, None] + shift), Merit.MORE)
    assert found.best.tolist() == [True, True, False]
    assert (found.rank_from.tolist(), found.rank_to.tolist()) == ([1, 1, 3], [2, 2, 3])


def test_a_nearly_singular_difference_is_no_trouble() -> None:
    # Fans 0 and 1 share all but a spread of 1e-6; fan 2 is noisy. Rounding (1e-15) must not decide.
    rng = np.random.default_rng(3)
    shared = rng.normal(size=M)
    values = np.array([3.0, 3.0 - 1e-7, 2.9])
    trials = np.stack(
        [3.0 + shared, values[1] + shared + 1e-6 * rng.normal(size=M), 2.9 + rng.normal(size=M)]
    )
    found = compare_field(Contest.of_values(values, trials), Merit.MORE)
    assert found.best.tolist() == [True, True, True]
    values = np.array([3.0, 3.0 - 1e-4, 2.9])
    trials[1] -= 1e-4
    found = compare_field(Contest.of_values(values, trials), Merit.MORE)
    assert found.best.tolist() == [True, False, True]  # a hundred standard deviations apart


def test_constant_trials_with_equal_values() -> None:
    found = compare_field(Contest.of_values(np.ones(3), np.ones((3, M))), Merit.LESS)
    assert found.best.all()
    assert (found.rank_from.tolist(), found.rank_to.tolist()) == ([1, 1, 1], [3, 3, 3])


def test_an_unknown_end_decides_nothing() -> None:
    # "At most 12" might be anything below, "at least 5" anything above; 10 and 6 are measured.
    trials = np.array([[12.0], [5.0], [10.0], [6.0]]) + 0.1 * np.random.default_rng(1).normal(size=(4, M))
    low, high = np.array([-np.inf, 5.0, 10.0, 6.0]), np.array([12.0, np.inf, 10.0, 6.0])
    found = compare_field(Contest(low, high, trials, trials), Merit.MORE)
    assert found.best.tolist() == [True, True, True, False]
    assert (found.rank_from.tolist(), found.rank_to.tolist()) == ([1, 1, 1, 2], [4, 4, 3, 4])
    pairs = pair_differences(Contest(low, high, trials, trials))
    said = verdicts(pairs, np.full(6, 1.0), Merit.MORE)
    words = {(int(a), int(b)): word for a, b, word in zip(pairs.first, pairs.second, said, strict=True)}
    assert words[2, 3] is Verdict.AHEAD
    assert [word for who, word in words.items() if who != (2, 3)] == [Verdict.NOT_RESOLVED] * 5
    assert (pairs.low[0], pairs.high[0]) == (-np.inf, pytest.approx(7.0, abs=0.5))


def test_a_range_counts_by_the_end_that_is_worst_for_the_sentence() -> None:
    noise = 0.1 * np.random.default_rng(1).normal(size=(3, M))
    low, high = np.array([10.0, 6.0, 8.0]), np.array([10.0, 9.5, 8.0])
    field = Contest(low, high, low[:, None] + noise, high[:, None] + noise)
    pairs = pair_differences(field)
    said = verdicts(pairs, np.full(3, 1.0), Merit.MORE)
    assert said == [Verdict.NOT_RESOLVED, Verdict.AHEAD, Verdict.NOT_RESOLVED]
    assert (pairs.least.tolist(), pairs.most.tolist()) == ([0.5, 2.0, -2.0], [4.0, 2.0, 1.5])
    found = compare_field(field, Merit.MORE)
    assert found.best.tolist() == [True, False, False]  # even 9.5 is 0.5 below, with a spread of 0.14
    assert (found.rank_from.tolist(), found.rank_to.tolist()) == ([1, 2, 2], [1, 3, 3])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-10, 10), min_size=1, max_size=6))
def test_order_and_mirror_change_nothing(values: list[float]) -> None:
    field = contest(values, 1.0, trials=200)
    found = compare_field(field, Merit.MORE)
    order = np.random.default_rng(len(values)).permutation(len(values))
    moved = compare_field(Contest.of_values(field.low_values[order], field.low[order]), Merit.MORE)
    assert np.array_equal(moved.best, found.best[order])
    assert np.array_equal(moved.rank_from, found.rank_from[order])
    mirrored = compare_field(Contest.of_values(-field.low_values, -field.low), Merit.LESS)
    assert np.array_equal(mirrored.best, found.best)
    assert np.array_equal(mirrored.rank_to, found.rank_to)
    assert found.best[int(np.argmax(values))]
    assert (found.rank_from <= found.rank_to).all()
    assert (found.rank_from[found.best] == 1).all()  # the rank intervals are the more careful ones


def test_what_cannot_be_compared_is_refused() -> None:
    good = np.zeros((2, M))
    for values, trials in (
        (np.zeros(0), np.zeros((0, M))),
        (np.zeros(3), good),
        (np.array([0.0, np.nan]), good),
        (np.zeros(2), np.full((2, M), np.nan)),
        (np.array([0.0, np.inf]), good),
    ):
        with pytest.raises(BadInput):
            Contest.of_values(values, trials)
    with pytest.raises(BadInput):
        Contest(np.array([2.0, 0.0]), np.array([1.0, 0.0]), good, good)


def test_two_hundred_fans_are_streamed() -> None:
    field = contest(list(np.linspace(90, 110, 200)))
    started = time.process_time()
    compare_field(field, Merit.MORE)
    pair_differences(field)
    assert time.process_time() - started < 3.0  # of processor time; about 1 s
    tracemalloc.start()
    compare_field(field, Merit.MORE)
    pair_differences(field)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 40e6  # beside the trials themselves, 3.2 MB
