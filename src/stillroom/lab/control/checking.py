"""What is found of the tests of fans' control: rules asked, findings kept per fan by key."""

from __future__ import annotations

from collections.abc import Collection

from stillroom.lab.book import Book
from stillroom.lab.facts.control_facts import ControlGathering
from stillroom.lab.facts.facts import CHECK
from stillroom.lab.recipes import Graph
from stillroom.quality import Finding
from stillroom.quality.control import VERSION, check_control
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


def control_findings(lab: Lab, book: Book, graph: Graph, fans: Collection[str]) -> list[Finding]:
    """The findings of the control of some fans; those of a fan that isn't reduced yet are left for later."""
    gathering = ControlGathering(lab, book, graph)
    found: list[Finding] = []
    made: list[Result] = []
    for fan in sorted(fans):
        keys = [each.key for each in graph.controlled(fan)] if fan else []
        if not keys:
            continue
        key = gathering.key(fan)
        kept = results.get(lab.database, key)
        if kept is None and results.known(lab.database, lab.path, keys) == set(keys):
            told = [each.as_dict() for each in check_control(gathering.fan(fan))]
            body = {"findings": told, "prints": []}
            kept = Result(key, CHECK, fan, {"curves": keys}, f"findings of control {VERSION}", False, body)
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return found
