"""From candidates to a ranking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from stillroom.compare.candidates import Bound, Candidate, Excluded, Margin, StandingVerdict
from stillroom.compare.standing import PairStanding, Plain, Ranking, Standing
from stillroom.core.intervals import coverage_interval
from stillroom.core.multiple import (
    PROBABILITY,
    Contest,
    Field,
    Merit,
    PairDifferences,
    Verdict,
    compare_field,
    pair_differences,
    verdicts,
)
from stillroom.core.settling import further_needed
from stillroom.errors import BadInput, NotPossible


def rank(
    candidates: Sequence[Candidate],
    *,
    measure: str,
    definition: str,
    version: str,
    unit: str,
    conditions: Mapping[str, Plain],
    margin: Margin,
    merit: Merit,
    excluded: Sequence[Excluded] = (),
) -> Ranking:
    """Fans in order, with what may be said of each and of each two.

    The order is by value, equal values by name. A fan that only has a bound, or a range, stays in the list
    and is judged by the end that is worst for the sentence that would be said. The leader is the first fan
    whose value is known to be at least as good as what is printed. A fan is "behind" only if the leader is
    ahead of it *and* it can be excluded as the best: the leader was picked after seeing the data, and a
    comparison with it alone would be too sure.

    Parameters
    ----------
    candidates : all in SI, trials of one length; none is allowed if at least one fan is excluded.
    measure, definition, version, unit, conditions, excluded : passed on as they are; `unit` is the SI one.
    margin : practical margin, fixed before the data are seen.
    merit : which way is better.

    Raises
    ------
    NotPossible : nothing to rank and nothing excluded.
    BadInput : a fan twice, trials of different lengths, or numbers that are not finite.
    OutOfRange : too few trials.
    """
    if not candidates and not excluded:
        raise NotPossible(f"ranking by {measure}", found="no fan", expected="at least one fan")
    sign = -1.0 if merit is Merit.MORE else 1.0
    ordered = sorted(candidates, key=lambda each: (sign * each.value, each.fan))
    _check(ordered, excluded)
    standings: tuple[Standing, ...] = ()
    pairs: tuple[PairStanding, ...] = ()
    best: tuple[str, ...] = ()
    if ordered:
        standings, pairs, best = _compare(ordered, margin, merit)
    return Ranking(
        measure, definition, version, unit, conditions, margin, standings, pairs, best, tuple(excluded)
    )


def _check(ordered: Sequence[Candidate], excluded: Sequence[Excluded]) -> None:
    """Refuse a fan that stands twice and trials that are not in common."""
    names = [each.fan for each in ordered] + [each.fan for each in excluded]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadInput("fans of a ranking", found=f"{twice[0]} twice", expected="each fan once")
    for each in ordered:
        sizes = {each.low_trials.shape, each.high_trials.shape, ordered[0].trials.shape}
        if len(sizes) != 1:
            raise BadInput(f"trials of {each.fan}", found=str(sorted(sizes)), expected="one length in all")


def _compare(
    ordered: Sequence[Candidate], margin: Margin, merit: Merit
) -> tuple[tuple[Standing, ...], tuple[PairStanding, ...], tuple[str, ...]]:
    """Standings, pairs and the set of possible bests, all in the order of the list."""
    contest = _contest(ordered)
    field = compare_field(contest, merit)
    differences = pair_differences(contest)
    values = np.array([each.value for each in ordered])
    margins = margin.between(values[differences.first], values[differences.second])
    said = verdicts(differences, margins, merit)
    further = further_needed(differences, margins, said, [each.parts for each in ordered])
    pairs = tuple(
        PairStanding(
            ordered[a].fan,
            ordered[b].fan,
            float(values[a] - values[b]),
            float(low),
            float(high),
            verdict,
            more,
        )
        for a, b, low, high, verdict, more in zip(
            differences.first,
            differences.second,
            differences.low,
            differences.high,
            said,
            further,
            strict=True,
        )
    )
    best = tuple(each.fan for each, stays in zip(ordered, field.best, strict=True) if stays)
    return (
        _standings(ordered, contest, field, _against(_leader(ordered, merit), differences, said)),
        pairs,
        best,
    )


def _contest(ordered: Sequence[Candidate]) -> Contest:
    """The candidates as arrays; one array of trials where every fan has one value."""
    if all(each.bound is Bound.NONE for each in ordered):
        values = np.array([each.value for each in ordered])
        return Contest.of_values(values, np.stack([each.trials for each in ordered]))
    return Contest(
        np.array([each.low_value for each in ordered]),
        np.array([each.high_value for each in ordered]),
        np.stack([each.low_trials for each in ordered]),
        np.stack([each.high_trials for each in ordered]),
    )


def _leader(ordered: Sequence[Candidate], merit: Merit) -> int:
    """Place of the first fan that is known to be at least as good as its value, else 0."""
    worse_open = Bound.AT_MOST if merit is Merit.MORE else Bound.AT_LEAST
    return next((place for place, each in enumerate(ordered) if each.bound is not worse_open), 0)


def _against(leader: int, pairs: PairDifferences, said: Sequence[Verdict]) -> dict[int, StandingVerdict]:
    """What the pairs say of each fan against the leader, before the choice of the leader is allowed for."""
    words = {leader: StandingVerdict.LEADER}
    for pair in np.flatnonzero((pairs.first == leader) | (pairs.second == leader)):
        leader_first = bool(pairs.first[pair] == leader)
        other = int(pairs.second[pair] if leader_first else pairs.first[pair])
        behind = Verdict.AHEAD if leader_first else Verdict.BEHIND
        words[other] = {behind: StandingVerdict.BEHIND, Verdict.TIED: StandingVerdict.TIED}.get(
            said[int(pair)], StandingVerdict.NOT_RESOLVED
        )
    return words


def _standings(
    ordered: Sequence[Candidate], contest: Contest, field: Field, words: Mapping[int, StandingVerdict]
) -> tuple[Standing, ...]:
    """One line per fan."""
    low, _ = coverage_interval(contest.low, PROBABILITY, axis=1)
    _, high = coverage_interval(contest.high, PROBABILITY, axis=1)
    low = np.where(np.isfinite(contest.low_values), low, -np.inf)
    high = np.where(np.isfinite(contest.high_values), high, np.inf)
    lines = []
    for place, each in enumerate(ordered):
        word = words[place]
        if word is StandingVerdict.BEHIND and field.best[place]:
            word = StandingVerdict.NOT_RESOLVED
        lines.append(
            Standing(
                fan=each.fan,
                value=each.value,
                low=float(low[place]),
                high=float(high[place]),
                bound=each.bound,
                rank=(int(field.rank_from[place]), int(field.rank_to[place])),
                verdict=word,
                how=each.how,
                samples=each.samples,
                mountings=each.mountings,
                marks=each.marks,
                key=each.key,
            )
        )
    return tuple(lines)
