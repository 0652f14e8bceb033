"""Facts of instruments and of rigs' leak tests, as the rules of quality are told them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

from stillroom.lab.book import Book
from stillroom.lab.facts.facts import told_date
from stillroom.lab.facts.kept_values import KeptValues
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.quality.facts import InstrumentFacts, RigFacts

LEAK_TEST = re.compile(r"leak(age)?[ -]test", re.IGNORECASE)
"""Words of the log that tell of a leak test."""


def instrument_facts(book: Book, graph: Graph) -> list[InstrumentFacts]:
    """Each instrument under each calibration that runs used, with what hangs on it."""
    used: dict[tuple[str, str], list[tuple[str, CurveNode]]] = defaultdict(list)
    for node in graph.curves:
        for run in node.runs:
            for name in run.calibrations.values():
                known = name in book.calibrations
                instrument = book.calibrations[name].instrument if known else name.rpartition(" (")[0]
                used[instrument, name if known else ""].append((told_date(book, run.placed), node))
    return [_instrument(book, *each, uses) for each, uses in sorted(used.items())]


def _instrument(
    book: Book, instrument: str, calibration: str, uses: Sequence[tuple[str, CurveNode]]
) -> InstrumentFacts:
    due = (book.calibrations[calibration].due or "") if calibration else ""
    late = [(date, node) for date, node in uses if due and date > due] if calibration else list(uses)
    record = book.instruments[instrument]
    return InstrumentFacts(
        name=instrument,
        calibration=calibration,
        due=due,
        last=max(date for date, _ in uses),
        accuracy=record.accuracy_relative is not None or record.accuracy_absolute is not None,
        mountings=tuple(sorted({node.subject for _, node in late if node.kind == "mounting"})),
        fans=tuple(sorted({node.fan for _, node in late if node.fan})),
        obstacles=tuple(sorted({node.subject for _, node in late if node.kind == "obstacle"})),
    )


def rig_facts(book: Book, graph: Graph, values: KeptValues) -> list[RigFacts]:
    """Each rig whose flow is read through nozzles, with its leak tests and the mountings that used it."""
    uses: dict[str, set[tuple[str, str, str, str]]] = defaultdict(set)
    for node in graph.mountings():
        for run in node.runs:
            if run.placed.taken.nozzles:
                date = told_date(book, run.placed)
                uses[run.placed.rig].add((date, node.subject, node.fan, node.judged))
    return [
        RigFacts(
            name=rig,
            tests=_leak_tests(book, rig),
            uses=tuple(sorted(found)),
            smallest=values.smallest_flow({mounting for _, mounting, _, _ in found}),
        )
        for rig, found in sorted(uses.items())
    ]


def _leak_tests(book: Book, rig: str) -> tuple[tuple[str, float | None], ...]:
    found = [(each.time[:10], each.leak) for each in book.events.values()
             if each.rig in (None, "", rig) and (each.leak is not None or LEAK_TEST.search(each.text))]  # fmt: skip
    return tuple(sorted(found, key=lambda each: each[0]))
