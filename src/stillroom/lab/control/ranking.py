"""Fans in order by a measure of control: at which duty or voltage they start and stop, how slowly they turn."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom.compare.candidates import Excluded
from stillroom.compare.standing import Ranking
from stillroom.errors import NotPossible
from stillroom.lab.answered import Answered, ranked, taking_part
from stillroom.lab.book import Book
from stillroom.lab.control.cases import Taken, fan_case, spreads_of, taken_of
from stillroom.lab.field import Asked
from stillroom.lab.recipes import Graph
from stillroom.lab.system_words import Plain
from stillroom.lab.valuing import FanCase
from stillroom.measures import Condition
from stillroom.store.lab import Lab

NOT_TESTED = "its control was not tested"
OPPOSITE = "of one mounting only the upper end is known, of another only the lower"


def rank_control(lab: Lab, book: Book, graph: Graph, asked: Asked, *, blocked: Mapping[str, str]) -> Ranking:
    """Put the fans in order by a measure of control; spreads are agreed where none were.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.

    Raises
    ------
    UnknownThing : a fan that the lab doesn't know. NotPossible : a condition; control is tested at settings of its own.
    """
    return ranked(lab, book, asked, control_cases(lab, book, graph, asked, blocked))


def control_cases(
    lab: Lab, book: Book, graph: Graph, asked: Asked, blocked: Mapping[str, str]
) -> Answered[FanCase]:
    """The fans of a comparison by control; errors as of `rank_control`."""
    if asked.condition != Condition():
        raise NotPossible(
            f"measure {asked.measure.name}",
            found="a setting, an obstacle, a system or a noise limit",
            expected="none: control is tested in free air, at settings of its own",
        )
    taking = taking_part(book, graph, asked, sorted({each.fan for each in graph.controlled()}))
    taken: dict[str, list[Taken]] = {}
    left: dict[str, bool] = {}
    gone = list(taking.gone)
    for fan in taking.fans:
        nodes = graph.controlled(fan)
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
    return Answered(tuple(cases), tuple(gone), _conditions(taking.size))


def _conditions(size: float | None) -> dict[str, Plain]:
    return {
        "speed": None,
        "obstacle": None,
        "obstacle version": None,
        "way": "control tested in free air, in the lab’s own air",
        "density": None,
        "size": f"{size * 1000:.0f} mm" if size else None,
    }
