"""Facts of rigs' leak tests, as the rules of quality are told them."""

from __future__ import annotations

import re
from collections import defaultdict

from stillroom.lab.book import Book
from stillroom.lab.facts.airflow_facts import told_date
from stillroom.lab.facts.kept_values import KeptValues
from stillroom.lab.recipes import Graph
from stillroom.quality.facts import RigFacts

LEAK_TEST = re.compile(r"leak(age)?[ -]test", re.IGNORECASE)
"""Words of the log that tell of a leak test."""


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
