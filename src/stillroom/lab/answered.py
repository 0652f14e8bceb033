"""Who takes part where sound, heat or control answers, what they answer, and the ranking made of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from stillroom.compare.candidates import Candidate, Excluded, LegacyNumber
from stillroom.compare.ranking import rank
from stillroom.compare.standing import BridgeNote, Ranking
from stillroom.compare.worth import Worth
from stillroom.errors import UnknownThing
from stillroom.lab import legacy
from stillroom.lab.book import Book
from stillroom.lab.cases import margin_of
from stillroom.lab.field import Asked, usual_size, why_not
from stillroom.lab.recipes import Graph
from stillroom.lab.system_words import Plain
from stillroom.measures import Condition
from stillroom.store.lab import Lab
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME


class Case(Protocol):
    """A fan with its value, ready to be ranked, and the result that is kept for tracing."""

    @property
    def candidate(self) -> Candidate:
        """The fan as it enters a ranking."""

    @property
    def kept(self) -> Result:
        """What is kept of its value."""


Case_co = TypeVar("Case_co", bound=Case, covariant=True)


@dataclass(frozen=True)
class Answered(Generic[Case_co]):
    """The fans of a comparison: those with a value, those without, and under what they were compared."""

    cases: tuple[Case_co, ...]
    excluded: tuple[Excluded, ...]
    conditions: dict[str, Plain]
    bridges: tuple[BridgeNote, ...] = ()

    def why(self, fan: str) -> str:
        """Why a fan has no value."""
        return next((each.why for each in self.excluded if each.fan == fan), "no value")


@dataclass(frozen=True)
class Taking:
    """The fans that take part, those that are of another size, and the size asked for or usual [m]."""

    fans: tuple[str, ...]
    gone: tuple[Excluded, ...]
    size: float | None


def taking_part(book: Book, graph: Graph, asked: Asked, having: Sequence[str]) -> Taking:
    """Who takes part in what is asked, of all fans that the lab knows.

    Parameters
    ----------
    having : the fans with measurements of the kind: their usual size is the one that is meant.

    Raises
    ------
    UnknownThing : a fan that the lab doesn't know.
    """
    fans = sorted(graph.fans | set(book.fans))
    if unknown := [each for each in asked.only if each not in fans]:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(fans) or "a fan of the lab")
    size = asked.size or usual_size(book, having)
    said = {fan: why_not(book, fan, size) for fan in fans if asked.wants(fan)}
    gone = tuple(Excluded(fan, why) for fan, why in said.items() if why)
    return Taking(tuple(fan for fan, why in said.items() if not why), gone, size)


def ranked(
    lab: Lab,
    book: Book,
    asked: Asked,
    found: Answered[Case],
    *,
    before: Sequence[Condition] = (),
    worth: Worth | None = None,
) -> Ranking:
    """The fans that were answered for in order; what was worked out is kept.

    Parameters
    ----------
    before : conditions under which a legacy number stands for a fan without a measurement, the first that does;
        what is asked where there are none.
    """
    measure = asked.measure
    told = {
        each.fan: _before(book, asked, before or (asked.condition,), each.fan)
        for each in found.excluded
        if not each.measured
    }
    stands = [each for each in told.values() if each is not None]
    numbers = {each.fan for each in stands}
    lab.put_results([each.kept for each in found.cases])
    lab.put_results([legacy.kept(each) for each in book.legacy.values()
                     if each.measure == measure.name and each.fan in numbers])  # fmt: skip
    return rank(
        [each.candidate for each in found.cases],
        measure=measure.name,
        definition=measure.definition,
        version=str(measure.version),
        unit=BY_NAME[measure.quantity].unit,
        conditions=found.conditions,
        margin=margin_of(book, measure),
        merit=measure.merit,
        excluded=[each for each in found.excluded if each.fan not in numbers],
        legacy=stands,
        bridges=found.bridges,
        worth=worth,
    )


def _before(book: Book, asked: Asked, conditions: Sequence[Condition], fan: str) -> LegacyNumber | None:
    """The legacy number of a fan under the first of some conditions that has one; None where none stands."""
    numbers = (legacy.standing(book, asked.measure, each, fan) for each in conditions)
    return next((each for each in numbers if isinstance(each, LegacyNumber)), None)
