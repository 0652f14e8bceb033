"""Facts of the law of resistance against airflow: who lies off it, and what that speaks against."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from stillroom.core.heat.law_disagreements import Disagreement, disagreements
from stillroom.lab.book import Book
from stillroom.lab.heat.laws import RigLaw, flow_laws
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.quality.finding import Finding
from stillroom.quality.heat import LawFacts
from stillroom.store import results
from stillroom.store.lab import Lab


def law_facts(
    lab: Lab, book: Book, graph: Graph, found: Sequence[Finding]
) -> Iterator[tuple[str, tuple[LawFacts, ...]]]:
    """By rig: who lies off the law of resistance against airflow; what other findings block already is left out.

    Parameters
    ----------
    found : of fans, by which is told whose airflow sweeps contradict each other, and which heat is blocked.
    """
    collapsing = collapsing_of(graph, found)
    blocked = {name for each in found for name in each.mountings}
    names = {each.subject: each for each in graph.heats}
    for law in flow_laws(lab, book, graph).values():
        if law.law is None:
            continue
        told = [_law_facts(lab, book, law, each, names) for each in disagreements(law.law, collapsing)]
        kept = [each for each in told if not {names[one].blocked_as for one in each.mountings} <= blocked]
        if kept:
            yield law.era.rig, tuple(kept)


def collapsing_of(graph: Graph, found: Sequence[Finding]) -> dict[str, bool]:
    """{fan: whether its airflow sweeps agree with each other}, of the fans that were swept."""
    swept = {each.fan: {one.subject for one in graph.mountings(each.fan)} for each in graph.mountings()}
    doubted = {name for each in found if each.blocks for name in each.mountings}
    return {fan: not mountings <= doubted for fan, mountings in swept.items()}


def _law_facts(
    lab: Lab, book: Book, law: RigLaw, told: Disagreement, names: Mapping[str, HeatNode]
) -> LawFacts:
    assert law.law is not None
    labels = [law.law.labels[i] for i in told.points]
    nominal = float(np.median([names[each.heat].rig_told.nominal for each in labels]))
    delta = told.shift * nominal * float(np.mean(law.law.predicted[list(told.points)]))
    day = told.name.removeprefix("from ") if told.name.startswith("from ") else ""
    return LawFacts(
        against=told.against.value,
        name=told.name,
        shift=told.shift,
        z=told.z,
        delta=delta,
        mountings={each.heat: each.fan for each in labels},
        event=_event(book, law.era.rig, day) if day else "",
        flow_fell=bool(day) and _flow_fell(lab, law, day, names),
    )


def _event(book: Book, rig: str, day: str) -> str:
    """The last line in the log of a rig up to a day, no more than a week before; "" without any."""
    before = [
        each
        for each in book.events.values()
        if each.rig in (None, "", rig) and each.time[:10] <= day and _days(each.time[:10], day) <= DAYS_BEFORE
    ]
    last = max(before, key=lambda each: each.time, default=None)
    return f"{last.time[:10]} {last.text}" if last else ""


DAYS_BEFORE = 7
"""An event explains what moved within so many days."""


def _days(first: str, last: str) -> int:
    return int((np.datetime64(last) - np.datetime64(first)) / np.timedelta64(1, "D"))


def _flow_fell(lab: Lab, law: RigLaw, day: str, names: Mapping[str, HeatNode]) -> bool:
    """Whether the coolant's flow was lower by 1 % or more from a day on."""
    sides: tuple[list[float], list[float]] = ([], [])
    for mounting in {each.mounting for each in law.points}:
        node = names[mounting]
        result = results.get(lab.database, node.key)
        for each in result.body.get("steps", ()) if result else ():
            if each["liquid_flow"]:
                sides[node.date[:10] >= day].append(each["liquid_flow"])
    before, after = (float(np.median(each)) if each else np.nan for each in sides)
    return bool(after < 0.99 * before)
