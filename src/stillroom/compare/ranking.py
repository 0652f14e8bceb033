"""From candidates to a ranking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.compare.candidates import (
    Bound,
    Candidate,
    Excluded,
    How,
    LegacyNumber,
    Margin,
    StandingVerdict,
)
from stillroom.compare.standing import BridgeNote, PairStanding, Plain, Ranking, Standing
from stillroom.compare.worth import Worth
from stillroom.core.intervals import coverage_interval
from stillroom.core.multiple import (
    PROBABILITY,
    Contest,
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
    legacy: Sequence[LegacyNumber] = (),
    bridges: Sequence[BridgeNote] = (),
    worth: Worth | None = None,
) -> Ranking:
    """Fans in order, with what may be said of each and of each two.

    The order is by value, equal values by name. A fan that only has a bound, or a range, stays in the list
    and is judged by the end that is worst for the sentence that would be said. The leader is the first fan
    whose value is known to be at least as good as what is printed. A fan is "behind" only if the leader is
    ahead of it *and* it can be excluded as the best: the leader was picked after seeing the data, and a
    comparison with it alone would be too sure. Nor is a measured fan out of the set of possible bests before it is
    "behind": that set is one-sided and knows no margin, so alone it could name a best that no pair bears out.

    Legacy numbers stand under the measured fans, ordered among themselves by value, without a rank: nothing that
    can't be followed to readings stands first, and nothing changes for the measured fans. One with an interval
    is judged against the leader, but is never called more than "not resolved" where its value is better; one
    without is not resolved.

    Parameters
    ----------
    candidates : all in SI, trials of one length; none is allowed if another fan is excluded or has a legacy number.
    measure, definition, version, unit, conditions, excluded, bridges, worth : passed on as they are, in SI.
    margin : practical margin, fixed before the data are seen.
    merit : which way is better.

    Raises
    ------
    NotPossible : nothing to rank and nothing excluded.
    BadInput : a fan twice, trials of different lengths, or numbers that are not finite.
    OutOfRange : too few trials.
    """
    if not candidates and not excluded and not legacy:
        raise NotPossible(f"ranking by {measure}", found="no fan", expected="at least one fan")
    sign = -1.0 if merit is Merit.MORE else 1.0
    trials = candidates[0].trials.size if candidates else TRIALS
    compared = [each for number in legacy if (each := number.as_candidate(trials)) is not None]
    ordered = sorted(candidates, key=lambda each: (sign * each.value, each.fan))
    ordered += sorted(compared, key=lambda each: (sign * each.value, each.fan))
    alone = [each for each in legacy if each.low is None]
    _check(ordered, [each.fan for each in alone] + [each.fan for each in excluded])
    standings: tuple[Standing, ...] = ()
    pairs: tuple[PairStanding, ...] = ()
    best: tuple[str, ...] = ()
    if ordered:
        standings, pairs, best = _compare(ordered, margin, merit)
    lines = [
        *(_as_told(each, legacy) for each in standings),
        *map(_unjudged, alone),
    ]
    lines.sort(key=lambda each: (each.how is How.LEGACY, sign * each.value, each.fan))
    return Ranking(
        measure, definition, version, unit, conditions, margin, tuple(lines), pairs, best, tuple(excluded),
        tuple(bridges), worth=worth, trials={each.fan: each.trials for each in candidates},
    )  # fmt: skip


TRIALS = 2000
"""Trials where only legacy numbers stand in the list."""


def _as_told(line: Standing, legacy: Sequence[LegacyNumber]) -> Standing:
    """A line with the interval as it was told where it is a legacy number's; that rests on no mounting."""
    number = next((each for each in legacy if each.fan == line.fan), None)
    if number is None or number.low is None or number.high is None:
        return line
    return replace(line, low=number.low, high=number.high, samples=0, mountings=0)


def _unjudged(each: LegacyNumber) -> Standing:
    """The line of a legacy number without an interval: nothing is said of it."""
    return Standing(
        fan=each.fan,
        value=each.value,
        low=-np.inf,
        high=np.inf,
        bound=Bound.NONE,
        rank=None,
        verdict=StandingVerdict.NOT_RESOLVED,
        how=How.LEGACY,
        samples=0,
        mountings=0,
        marks=each.marks,
        key=each.key,
    )


def _check(ordered: Sequence[Candidate], others: Sequence[str]) -> None:
    """Refuse a fan that stands twice and trials that are not in common."""
    names = [*(each.fan for each in ordered), *others]
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
    places = _places(ordered, merit)
    words = _against(_leader(ordered, merit), differences, said)
    lines = _standings(ordered, contest, places, words)
    best = tuple(each.fan for each in lines if each.rank and each.verdict is not StandingVerdict.BEHIND)
    return lines, pairs, best


@dataclass(frozen=True)
class _Place:
    """Where a fan stands among the measured ones: may it be the best, and its rank from and to; None for legacy."""

    best: bool = False
    rank: tuple[int, int] | None = None


def _places(ordered: Sequence[Candidate], merit: Merit) -> list[_Place]:
    """The places of the measured fans, all at once; a legacy number has none."""
    measured = [each for each in ordered if each.how is not How.LEGACY]
    places = []
    if measured:
        field = compare_field(_contest(measured), merit)
        for row in range(len(measured)):
            rank_of = (int(field.rank_from[row]), int(field.rank_to[row]))
            places.append(_Place(bool(field.best[row]), rank_of))
    return places + [_Place()] * (len(ordered) - len(measured))


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


def _leader(ordered: Sequence[Candidate], merit: Merit) -> int | None:
    """Place of the first measured fan that is known to be at least as good as its value, else the first one's."""
    worse_open = Bound.AT_MOST if merit is Merit.MORE else Bound.AT_LEAST
    measured = [place for place, each in enumerate(ordered) if each.how is not How.LEGACY]
    known = [place for place in measured if ordered[place].bound is not worse_open]
    return next(iter((*known, *measured)), None)


def _against(
    leader: int | None, pairs: PairDifferences, said: Sequence[Verdict]
) -> dict[int, StandingVerdict]:
    """What the pairs say of each fan against the leader, before the choice of the leader is allowed for."""
    if leader is None:
        return {}
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
    ordered: Sequence[Candidate],
    contest: Contest,
    places: Sequence[_Place],
    words: Mapping[int, StandingVerdict],
) -> tuple[Standing, ...]:
    """One line per fan."""
    low, _ = coverage_interval(contest.low, PROBABILITY, axis=1)
    _, high = coverage_interval(contest.high, PROBABILITY, axis=1)
    low = np.where(np.isfinite(contest.low_values), low, -np.inf)
    high = np.where(np.isfinite(contest.high_values), high, np.inf)
    lines = []
    for place, each in enumerate(ordered):
        word = words.get(place, StandingVerdict.NOT_RESOLVED)
        if word is StandingVerdict.BEHIND and places[place].best:
            word = StandingVerdict.NOT_RESOLVED
        lines.append(
            Standing(
                fan=each.fan,
                value=each.value,
                low=float(low[place]),
                high=float(high[place]),
                bound=each.bound,
                rank=places[place].rank,
                verdict=word,
                how=each.how,
                samples=each.samples,
                mountings=each.mountings,
                marks=each.marks,
                key=each.key,
                ends=(each.ends.low, each.ends.high) if each.ends else None,
            )
        )
    return tuple(lines)
