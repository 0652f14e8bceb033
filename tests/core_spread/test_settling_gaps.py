"""How many further mountings or samples would settle a gap: by hand."""

import numpy as np
import pytest

from stillroom.core.combine import VarianceParts
from stillroom.core.multiple import PairDifferences, Verdict
from stillroom.core.settling import Further, Settling, further_needed
from stillroom.errors import BadInput

OPEN = [Verdict.NOT_RESOLVED]


def settle(gap: float, margin: float, one: VarianceParts, other: VarianceParts) -> Further:
    """What would settle a normal gap with the variance of these parts."""
    sources = set(one.loadings) | set(other.loadings)
    shared = sum((one.loadings.get(each, 0.0) - other.loadings.get(each, 0.0)) ** 2 for each in sources)
    sd = np.sqrt(one.private + other.private + shared)
    middle = np.array([gap])
    ends = [middle - 1.96 * sd, middle + 1.96 * sd, middle - 1.645 * sd, middle + 1.645 * sd]
    pairs = PairDifferences(np.array([0]), np.array([1]), middle, middle, *ends)
    (found,) = further_needed(pairs, np.array([margin]), OPEN, [one, other])
    return found


ONCE = VarianceParts(sample=0.0, mounting=1.0, mountings_per_sample=(1,))


@pytest.mark.parametrize(
    ("gap", "margin", "count"),
    [
        (2.0, 1.0, 3),  # (1.960 + 0.842) √(2/m) < 2: m > 3.92
        (-2.0, 1.0, 3),
        (1.2, 1.0, 10),  # (1.960 + 0.842) √(2/m) < 1.2: m > 10.90
        (0.2, 1.0, 26),  # (1.645 + 1.282) √(2/m) < 0.8: m > 26.8
        (0.0, 1.0, 17),  # (1.645 + 1.282) √(2/m) < 1: m > 17.1
    ],
)
def test_mountings_that_would_settle(gap: float, margin: float, count: int) -> None:
    assert settle(gap, margin, ONCE, ONCE) == Further(Settling.MORE_MOUNTINGS, count)


@pytest.mark.parametrize("gap", [0.91, 1.0, 1.09, -1.0])
def test_a_gap_on_the_margin_never_settles(gap: float) -> None:
    assert settle(gap, 1.0, ONCE, ONCE) == Further(Settling.ON_THE_MARGIN)


def test_samples_where_mountings_would_not_help() -> None:
    # σ_s² = 1 each: 2.802 √(2/a + 0.2/a) < 2 from a = 5 samples; no number of mountings does it.
    part = VarianceParts(sample=1.0, mounting=0.1, mountings_per_sample=(1,))
    assert settle(2.0, 1.0, part, part) == Further(Settling.MORE_SAMPLES, 4)


def test_what_does_not_cancel_stays() -> None:
    # A source that moves only one of the two by 1.1: 1.96 · 1.1 > 2 whatever is repeated.
    only = VarianceParts(0.0, 0.2, (2,), {"bore": 1.1})
    plain = VarianceParts(0.0, 0.2, (2,), {})
    assert settle(2.0, 1.0, only, plain) == Further(Settling.OUT_OF_REACH)
    both = VarianceParts(0.0, 3.0, (2,), {"bore": 1.1})
    assert settle(2.0, 1.0, both, both).settling is Settling.MORE_MOUNTINGS


def test_more_than_the_limit_is_out_of_reach() -> None:
    # 2.802 √(2·30/m) < 1.2 needs m > 327.
    noisy = VarianceParts(sample=0.0, mounting=30.0, mountings_per_sample=(1,))
    assert settle(1.2, 1.0, noisy, noisy) == Further(Settling.OUT_OF_REACH)


def test_without_a_margin_only_a_gap_of_nothing_never_settles() -> None:
    assert settle(0.0, 0.0, ONCE, ONCE) == Further(Settling.ON_THE_MARGIN)
    assert settle(2.0, 0.0, ONCE, ONCE) == Further(Settling.MORE_MOUNTINGS, 3)


@pytest.mark.parametrize("gap", [2.0, 1.5, 0.0])
def test_so_many_settle_it_in_four_of_five_cases(gap: float) -> None:
    # Brute force: fans that truly differ by the gap, each the mean of so many mountings, sd 1.
    count = 1 + settle(gap, 1.0, ONCE, ONCE).count
    random = np.random.default_rng(5)
    found = gap + np.sqrt(2.0 / count) * random.standard_normal(20_000)
    half = np.sqrt(2.0 / count)
    won = found - 1.96 * half > 0.0
    tied = np.abs(found) + 1.645 * half < 1.0
    assert 0.78 <= (won if gap > 1.0 else tied).mean() <= 0.9


def test_settled_pairs_need_nothing_and_ranges_cannot_be_settled() -> None:
    ends = [np.array([each]) for each in (1.0, 6.0, -2.0, 9.0, -1.0, 8.0)]
    pairs = PairDifferences(np.array([0]), np.array([1]), *ends)
    parts = [ONCE, ONCE]
    assert further_needed(pairs, np.ones(1), [Verdict.AHEAD], parts) == [Further(Settling.SETTLED)]
    assert further_needed(pairs, np.ones(1), OPEN, parts) == [Further(Settling.OUT_OF_REACH)]


def test_lists_that_do_not_fit_are_refused() -> None:
    ends = [np.array([each]) for each in (1.0, 1.0, -2.0, 4.0, -1.0, 3.0)]
    pairs = PairDifferences(np.array([0]), np.array([1]), *ends)
    with pytest.raises(BadInput):
        further_needed(pairs, np.ones(2), OPEN, [ONCE, ONCE])
