"""Fans in order by a measure of control: at which duty or voltage they start and stop, how slowly they turn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom.compare.candidates import Excluded
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab import legacy
from stillroom.lab.book import Book
from stillroom.lab.cases import margin_of
from stillroom.lab.control.cases import Taken, fan_case, spreads_of, taken_of
from stillroom.lab.field import Asked, usual_size, why_not
from stillroom.lab.recipes import Graph
from stillroom.lab.system_words import Plain
from stillroom.lab.valuing import FanCase
from stillroom.measures import Condition
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME

NOT_TESTED = "its control was not tested"
NOT_ASKED = "not asked for"
OPPOSITE = "of one mounting only the upper end is known, of another only the lower"


@dataclass(frozen=True)
class ControlAnswer:
    """The fans of a comparison by control: those with a value, those without, and under what they were compared."""

    cases: tuple[FanCase, ...]
    excluded: tuple[Excluded, ...]
    conditions: dict[str, Plain]


def rank_control(lab: Lab, book: Book, graph: Graph, asked: Asked, *, blocked: Mapping[str, str]) -> Ranking:
    """Put the fans in order by a measure of control; spreads are agreed where none were.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.

    Raises
    ------
    UnknownThing : a fan that the lab doesn't know. NotPossible : a condition; control is tested at settings of its own.
    """
    found = control_cases(lab, book, graph, asked, blocked)
    lab.put_results([each.kept for each in found.cases])
    measure = asked.measure
    told = {
        each.fan: legacy.standing(book, measure, asked.condition, each.fan)
        for each in found.excluded
        if not each.measured and each.why != NOT_ASKED
    }
    stands = [each for each in told.values() if not isinstance(each, str)]
    numbers = {each.fan for each in stands}
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
        excluded=[each for each in found.excluded if each.why != NOT_ASKED and each.fan not in numbers],
        legacy=stands,
    )


def control_cases(
    lab: Lab, book: Book, graph: Graph, asked: Asked, blocked: Mapping[str, str]
) -> ControlAnswer:
    """The fans of a comparison by control; errors as of `rank_control`."""
    if asked.condition != Condition():
        raise NotPossible(
            f"measure {asked.measure.name}",
            found="a setting, an obstacle, a system or a noise limit",
            expected="none: control is tested in free air, at settings of its own",
        )
    tested = {each.fan for each in graph.controlled()}
    fans = sorted(tested | {each.fan for each in graph.mountings()} | set(book.fans))
    if unknown := [each for each in asked.only if each not in fans]:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(fans) or "a fan of the lab")
    size = asked.size or usual_size(book, sorted(tested))
    taken: dict[str, list[Taken]] = {}
    left: dict[str, bool] = {}
    gone: list[Excluded] = []
    for fan in fans:
        nodes = graph.controlled(fan)
        if why := why_not(book, fan, asked, size):
            gone.append(Excluded(fan, why))
            continue
        own, failed = taken_of(lab, nodes, asked.measure)
        if (
            own
            and any(each.value.low is None for each in own)
            and any(each.value.high is None for each in own)
        ):
            gone.append(Excluded(fan, OPPOSITE, measured=True))
        elif own:
            taken[fan], left[fan] = own, bool(failed)
        else:
            gone.append(Excluded(fan, failed[0] if failed else NOT_TESTED, measured=bool(nodes)))
    spreads, _ = spreads_of(lab, book, asked.measure, taken, blocked, keep=not asked.only)
    cases = []
    for fan, own in taken.items():
        marks = ["a mounting could not be used"] if left[fan] else []
        marks += ["open finding"] if any(each.node.blocked_as in blocked for each in own) else []
        cases.append(fan_case(fan, own, asked.measure, spreads, marks, book.settings.trials))
    return ControlAnswer(tuple(cases), tuple(gone), _conditions(size))


def _conditions(size: float | None) -> dict[str, Plain]:
    return {
        "speed": None,
        "obstacle": None,
        "obstacle version": None,
        "way": "control tested in free air, in the lab’s own air",
        "density": None,
        "size": f"{size * 1000:.0f} mm" if size else None,
    }
