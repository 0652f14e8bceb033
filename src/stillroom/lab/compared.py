"""Fans compared as somebody asks: in the units that the lab shows, with what open findings hold back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.compare.standing import Ranking
from stillroom.lab.blocking import blocked_in, open_blocks_of
from stillroom.lab.cases import with_margin
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, as_written, rests_on
from stillroom.lab.ranking import rank_fans
from stillroom.lab.registering import Registry
from stillroom.lab.whole import Whole
from stillroom.quality import Finding
from stillroom.vocabulary import BY_NAME, shown_unit


@dataclass(frozen=True)
class Compared:
    """A ranking in the units that the lab shows, and the open findings that block each of its fans."""

    ranking: Ranking
    findings: Mapping[str, Sequence[Finding]]

    @property
    def blocks(self) -> dict[str, int]:
        """How many open findings block each fan; fans without any are left out."""
        return {fan: len(each) for fan, each in self.findings.items()}


def compared(whole: Whole, asked: Asked, progress: Progress = silent) -> Compared:
    """Put the fans of a lab in order, with the records as they stand now.

    A margin that a round registered for just this measure counts before the lab's own.

    Raises
    ------
    NotPossible, UnknownThing, BadInput : as `rank_fans`.
    """
    lab, book, graph, findings = whole.again()
    registered = Registry(lab, book, graph).of(asked)
    if registered is not None and registered.margin is not None:
        book = with_margin(book, asked.measure, registered.margin)
    asked = replace(asked, only=as_written(book, graph, asked.only))
    through = asked.condition.obstacle
    blocked = blocked_in(findings, book, graph, through)
    ranking = rank_fans(lab, book, graph, asked, blocked=blocked, progress=progress)
    shown = [each.fan for each in ranking.standings]
    open_ = open_blocks_of(findings, book, graph, through, shown, rests_on=rests_on(asked))
    return Compared(ranking.in_unit(shown_unit(BY_NAME[asked.measure.quantity], book.settings.units)), open_)


def each_compared(whole: Whole, questions: Sequence[Asked], progress: Progress = silent) -> list[Ranking]:
    """The rankings of several questions."""
    return [compared(whole, each, progress).ranking for each in questions]
