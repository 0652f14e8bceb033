"""What a ranking allows to be said: no win inside the margin or unresolved, and nothing that no pair bears out.

Readers hear two verdicts, "ahead of" and "too close to call". Which fans may be the best is told as the ranking has
it; who is ahead of whom is told of pairs, and against the leader only where the fan can be excluded as the best too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stillroom import wording
from stillroom.compare.candidates import How, StandingVerdict
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.core.multiple import Verdict
from stillroom.lab.ranking_words import further_words, margin_words
from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.publish.standing_words import AGAINST, gap_words, value_words


class Told:
    """A ranking as sentences ask for it: its leader, its pairs whichever way they are told.

    Parameters
    ----------
    ranking : finished, in the units shown. slug, title : of the published measure.
    """

    def __init__(self, ranking: Ranking, slug: str, title: str) -> None:
        self.ranking, self.slug, self.title = ranking, slug, title
        self.ranked = [each for each in ranking.standings if each.how is not How.LEGACY]
        self.legacy = [each for each in ranking.standings if each.how is How.LEGACY]
        self.leader = next((each for each in self.ranked if each.verdict is StandingVerdict.LEADER), None)
        self._pairs = {frozenset((each.a, each.b)): each for each in ranking.pairs}

    @property
    def where(self) -> str:
        """The published measure within a sentence: "airflow through rad27 at 35 dBA"."""
        return self.title[:1].lower() + self.title[1:]

    def pair(self, one: str, other: str) -> PairStanding | None:
        """The pair of two fans; None where one of them has only a number without an interval."""
        return self._pairs.get(frozenset((one, other)))

    def verdict(self, one: str, other: str) -> Verdict:
        """What may be said of one fan against another, whichever stands higher in the list.

        Against the leader a fan is behind only where it can be excluded as the best as well.
        """
        pair = self.pair(one, other)
        if pair is None:
            return Verdict.NOT_RESOLVED
        said = pair.verdict if pair.a == one else _TURNED[pair.verdict]
        if self.leader and self.leader.fan in (one, other) and said in (Verdict.AHEAD, Verdict.BEHIND):
            fan = other if one == self.leader.fan else one
            standing = next(each for each in self.ranking.standings if each.fan == fan)
            if standing.verdict is not StandingVerdict.BEHIND:
                return Verdict.NOT_RESOLVED
        return said

    def sentence(self, kind: Kind, fans: Sequence[str], text: str) -> Sentence:
        """A sentence about this measure."""
        return Sentence(self.slug, kind, tuple(fans), wording.stopped(text))


_TURNED = {Verdict.AHEAD: Verdict.BEHIND, Verdict.BEHIND: Verdict.AHEAD, Verdict.TIED: Verdict.TIED,
           Verdict.NOT_RESOLVED: Verdict.NOT_RESOLVED}  # fmt: skip


def ranked_sentences(told: Told, highlight: str = "") -> Iterator[Sentence]:
    """Who may be the best, who is ahead of whom, the place of the fan under review, what isn't resolved."""
    yield from _best(told)
    yield from _ahead(told)
    if highlight:
        yield from _place(told, highlight)
    yield from _alike(told)
    yield from _unresolved(told)
    yield from _legacy(told)


# --- who may be the best -----------------------------------------------------------------------------------


def _best(told: Told) -> Iterator[Sentence]:
    leader, best, unit = told.leader, told.ranking.best, told.ranking.unit
    if leader is None:
        yield told.sentence(Kind.BEST, (), f"No fan could be ranked by {told.where}")
        return
    value = value_words(leader, unit)
    name = wording.isolate(leader.fan)
    if len(told.ranked) == 1:
        yield told.sentence(Kind.BEST, [leader.fan], f"By {told.where} only {name} could be ranked: {value}")
    elif best == (leader.fan,):
        others = wording.plural(len(told.ranked) - 1, "other fan")
        text = f"By {told.where} {name}, with {value}, is ahead of the {others} that could be ranked"
        yield told.sentence(Kind.BEST, [leader.fan], text)
    else:
        whom = wording.listed(best)
        text = f"By {told.where} it is too close to call which of {whom} is the best"
        text += f"; {name} has the best value, {value}"
        yield told.sentence(Kind.BEST, best, text)


def _ahead(told: Told) -> Iterator[Sentence]:
    """Of whom the leader is ahead, each with the gap."""
    if told.leader is None:
        return
    behind = [each for each in told.ranked if told.verdict(told.leader.fan, each.fan) is Verdict.AHEAD]
    if behind:
        fans = [each.fan for each in behind]
        text = f"{wording.isolate(told.leader.fan)} is ahead of {_with_gaps(told, told.leader.fan, fans)}"
        yield told.sentence(Kind.AHEAD, [told.leader.fan, *fans], text)


def _with_gaps(told: Told, fan: str, others: Sequence[str]) -> str:
    """Names, each with the gap to it: "Sedge by 4.1 m³/h (2.0 to 6.3) and Bracken by …"."""
    names = []
    for other in others:
        pair = told.pair(fan, other)
        gap = gap_words(pair, told.ranking.unit) if pair else ""
        names.append(wording.isolate(other) + (f" by {gap}" if gap else ""))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --- the fan under review ------------------------------------------------------------------------------------


def _place(told: Told, fan: str) -> Iterator[Sentence]:
    name = wording.isolate(fan)
    standing = next((each for each in told.ranking.standings if each.fan == fan), None)
    if standing is None:
        gone = next((each.why for each in told.ranking.excluded if each.fan == fan), "it takes no part")
        yield told.sentence(
            Kind.PLACE, [fan], f"{name}, the fan under review, is not ranked by {told.where}: {gone}"
        )
        return
    value = value_words(standing, told.ranking.unit)
    if standing.rank is None:
        text = f"{name}, the fan under review, has only a number from before, {value}, and no rank by {told.where}"
        yield told.sentence(Kind.PLACE, [fan], text)
        return
    place = wording.rank_range(*standing.rank)
    of = wording.plural(len(told.ranked), "fan")
    text = f"{name}, the fan under review, stands {place} of {of} by {told.where}, with {value}"
    yield told.sentence(Kind.PLACE, [fan], text)
    yield from _against_others(told, standing)


def _against_others(told: Told, own: Standing) -> Iterator[Sentence]:
    """Of whom the fan under review is ahead, behind whom, and against whom it is too close to call."""
    groups: dict[str, list[str]] = {}
    for each in told.ranked:
        if each.fan != own.fan:
            groups.setdefault(AGAINST[told.verdict(own.fan, each.fan)], []).append(each.fan)
    order = [words for words in dict.fromkeys(AGAINST.values()) if words in groups]
    fans = [fan for words in order for fan in groups[words]]
    said = [f"{words} {wording.listed(groups[words])}" for words in order]
    if said:
        yield told.sentence(Kind.PLACE, [own.fan, *fans], f"{wording.isolate(own.fan)} is {'; '.join(said)}")


# --- what is not told apart ----------------------------------------------------------------------------------


def _alike(told: Told) -> Iterator[Sentence]:
    """Fans whose gap to the leader is shown to lie within the margin."""
    leader = told.leader
    if leader is None:
        return
    tied = [each.fan for each in told.ranked if each.verdict is StandingVerdict.TIED]
    if tied:
        text = (
            f"Between {wording.isolate(leader.fan)} and {wording.listed(tied, last='or')} there is no gap that anyone"
            f" would notice: it is shown to be less than {margin_words(told.ranking.margin, told.ranking.unit)}"
        )
        yield told.sentence(Kind.ALIKE, [leader.fan, *tied], text)


def _unresolved(told: Told) -> Iterator[Sentence]:
    """What would settle the fans that are not resolved against the leader, those alike together."""
    leader = told.leader
    if leader is None:
        return
    by_words: dict[str, list[str]] = {}
    for each in told.ranked:
        if each.verdict is StandingVerdict.NOT_RESOLVED:
            by_words.setdefault(_settles(told, each.fan), []).append(each.fan)
    for words, fans in by_words.items():
        whom = f"{wording.isolate(leader.fan)} against {wording.listed(fans, last='or')}"
        yield told.sentence(Kind.UNRESOLVED, [leader.fan, *fans], f"Not resolved, {whom}: {words}")


def _settles(told: Told, fan: str) -> str:
    pair = told.pair(told.leader.fan, fan) if told.leader else None
    if pair is None:
        return UNKNOWN
    if pair.verdict is not Verdict.NOT_RESOLVED:
        return "the two alone would be told apart, but not among all fans at once"
    return further_words(pair.further) or UNKNOWN


UNKNOWN = "nobody can say what would settle it"


def _legacy(told: Told) -> Iterator[Sentence]:
    """Numbers from before, of which nothing is said against others."""
    if told.legacy:
        fans = [each.fan for each in told.legacy]
        values = [
            f"{wording.isolate(each.fan)} {value_words(each, told.ranking.unit)}" for each in told.legacy
        ]
        one = "A number" if len(fans) == 1 else "Numbers"
        text = f"{one} from before without raw data, without a rank: {'; '.join(values)}"
        yield told.sentence(Kind.LEGACY, fans, text)
