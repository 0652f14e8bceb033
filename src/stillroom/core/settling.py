"""How many further mountings, or samples, would settle a gap that is not resolved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.combine import VarianceParts
from stillroom.core.multiple import PairDifferences, Verdict
from stillroom.errors import BadInput

MOST_FURTHER = 99
"""Beyond this many further mountings (or samples) of each fan the answer is "out of reach"."""

ON_MARGIN = 0.1
"""A gap within this share of the margin from the margin itself sits on it, and never settles [1]."""


SURE = 0.8
"""In how many of such cases the mountings told are to settle a gap that is truly as measured [1]: with just so many
that today's gap would pass, it would in about half of them (common practice in planning: a power of 80 %).
"""

_NORMAL = NormalDist()
WIN_WIDTH = 1.0 + _NORMAL.inv_cdf(SURE) / _NORMAL.inv_cdf(0.975)
TIE_WIDTH = 1.0 + _NORMAL.inv_cdf((1.0 + SURE) / 2.0) / _NORMAL.inv_cdf(0.95)
"""By how much narrower than the gap, or than the room inside the margin, an interval must be for that [1]; a tie must
hold on both sides."""


class Settling(Enum):
    """What would settle a gap."""

    SETTLED = "settled"
    MORE_MOUNTINGS = "more mountings"
    MORE_SAMPLES = "more samples"
    ON_THE_MARGIN = "the gap sits on the margin"
    OUT_OF_REACH = "out of reach"


@dataclass(frozen=True)
class Further:
    """What would settle one pair.

    Parameters
    ----------
    settling : by what; only with MORE_MOUNTINGS and MORE_SAMPLES is there work that would help.
    count : further mountings of the samples at hand, or further samples with one mounting each, for each
        of the two fans; 0 in all other states.
    """

    settling: Settling
    count: int = 0


def further_needed(
    pairs: PairDifferences, margins: Array, said: Sequence[Verdict], parts: Sequence[VarianceParts]
) -> list[Further]:
    """What would settle each pair, if the measured differences stay as they are.

    A gap beyond the margin needs a 95 % interval that excludes 0, one inside it needs a 90 % interval
    inside ± margin; both are to be so narrow that the next reading of the gap passes in `SURE` of all
    cases. Both shrink with the standard deviation of the difference: shared parts that don't cancel stay,
    the sample part falls with samples only, the mounting part with mountings. The ratio of today's
    interval to today's standard deviation is kept, and with it the few degrees of freedom.

    Parameters
    ----------
    pairs, margins, said : the differences, their margins and verdicts, in one order.
    parts : one per fan, in the order of the contest.

    Raises
    ------
    BadInput : numbers of pairs, margins and verdicts that don't fit.
    """
    if not margins.size == len(said) == pairs.first.size:
        raise BadInput(
            "pairs to settle", found=f"{margins.size}, {len(said)}", expected=f"{pairs.first.size}"
        )
    open_pairs = np.array([verdict is Verdict.NOT_RESOLVED for verdict in said], dtype=np.bool_)
    where = np.flatnonzero(open_pairs)
    answers = [Further(Settling.SETTLED)] * len(said)
    if where.size == 0:
        return answers
    first, second = pairs.first[where], pairs.second[where]
    shared = _shared(parts)[first, second]
    by_mountings = np.array([part.after_mountings(MOST_FURTHER) for part in parts])
    by_samples = np.array([part.after_samples(MOST_FURTHER) for part in parts])
    now = shared + by_mountings[first, 0] + by_mountings[second, 0]
    goal, on_margin = _goal(pairs, margins, where, now)
    mountings = _first_below(goal, shared, by_mountings[first] + by_mountings[second])
    samples = _first_below(goal, shared, by_samples[first] + by_samples[second])
    for row, pair in enumerate(where):
        if on_margin[row]:
            answers[pair] = Further(Settling.ON_THE_MARGIN)
        elif mountings[row]:
            answers[pair] = Further(Settling.MORE_MOUNTINGS, int(mountings[row]))
        elif samples[row]:
            answers[pair] = Further(Settling.MORE_SAMPLES, int(samples[row]))
        else:
            answers[pair] = Further(Settling.OUT_OF_REACH)
    return answers


def _shared(parts: Sequence[VarianceParts]) -> Array:
    """Variance of each difference from shared sources that don't cancel, shape (F, F)."""
    sources = sorted({source for part in parts for source in part.loadings})
    table = np.array([[part.loadings.get(source, 0.0) for source in sources] for part in parts])
    table = table.reshape(len(parts), len(sources))
    return np.array([np.square(table - row).sum(axis=1) for row in table])


def _goal(
    pairs: PairDifferences, margins: Array, where: NDArray[np.intp], now: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """The variance that would settle each open pair (0: none would), and who sits on the margin."""
    single = pairs.least[where] == pairs.most[where]
    gap = np.where(single, np.abs(pairs.least[where]), 0.0)
    margin = margins[where]
    wide = np.where(single, (pairs.high[where] - pairs.low[where]) / 2.0, np.inf)
    tie = np.where(single, (pairs.tie_high[where] - pairs.tie_low[where]) / 2.0, np.inf)
    beyond = gap > margin * (1.0 + ON_MARGIN)
    inside = gap < margin * (1.0 - ON_MARGIN)
    room = np.where(beyond, gap, np.where(inside, margin - gap, 0.0))
    width = np.where(beyond, wide * WIN_WIDTH, tie * TIE_WIDTH)
    share = np.divide(room, width, out=np.zeros_like(room), where=(width > 0.0) & np.isfinite(width))
    return np.square(share) * now, single & ~beyond & ~inside


def _first_below(goal: Array, shared: Array, private: Array) -> NDArray[np.intp]:
    """How many further ones bring the variance below the goal, 0 where no number up to the limit does."""
    enough = (shared[:, None] + private[:, 1:]) < goal[:, None]
    found: NDArray[np.intp] = np.where(enough.any(axis=1), 1 + enough.argmax(axis=1), 0).astype(np.intp)
    return found
