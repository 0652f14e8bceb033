"""The reference fan on a rig: each of its mountings is a check of the rig, drawn on a control chart.

A check is taken at one given speed, that of the first check: so the supply doesn't matter. The speed that the fan
reaches at full setting is a line of its own: it tells of the supply and the tachometer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom.core.control_chart import Check, judge
from stillroom.lab.book import Book
from stillroom.lab.eras.check_ways import Way, way_of
from stillroom.lab.eras.eras import Era, Eras
from stillroom.lab.eras.rig_nodes import RigNode, is_bare, moment_of, rig_nodes
from stillroom.lab.recipes import Graph
from stillroom.measures import measure_named
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

VERSION = 1
"""Raised when the same mounting would give another check."""


@dataclass(frozen=True)
class ReferenceCheck:
    """One mounting of the reference fan on a rig.

    Parameters
    ----------
    node : the mounting. era : of the rig. date : of it, ISO.
    values : {measure: value}, SI. reading_u : {measure: standard uncertainty by readings alone}, SI; 0 for what is
    taken from a curve of airflow, whose own trials hold what lies between the points as well: checks share that.
    failed : {measure: why there is no value}.
    """

    node: RigNode
    era: Era
    date: str
    values: Mapping[str, float]
    reading_u: Mapping[str, float]
    failed: Mapping[str, str]

    @property
    def mounting(self) -> str:
        """The mounting's name."""
        return self.node.subject


def reference_rigs(book: Book, graph: Graph) -> tuple[str, ...]:
    """The rigs on which the reference fan was mounted."""
    return tuple(sorted({node.rig for node in _mountings(book, graph)}))


def reference_name(book: Book, graph: Graph) -> str:
    """The reference fan with its sample: the sample that lab.toml names, else the one that was measured first."""
    fan, _, sample = book.settings.reference_fan.partition("/")
    own = [node for node in rig_nodes(graph, fan) if node.fan == fan and is_bare(node)] if fan else []
    first = min(own, key=_when, default=None)
    return f"{fan}/{sample or first.sample}" if first else fan


def _mountings(book: Book, graph: Graph, rig: str | None = None) -> list[RigNode]:
    """The checks of a rig (or of all), in the order of time."""
    fan, _, sample = reference_name(book, graph).partition("/")
    if not sample:
        return []
    own = [
        each for each in rig_nodes(graph, fan) if (each.fan, each.sample) == (fan, sample) and is_bare(each)
    ]
    return sorted(
        (each for each in own if rig in (None, each.rig)), key=lambda each: (each.date, moment_of(each))
    )


def _when(node: RigNode) -> str:
    return node.date


def reference_checks(lab: Lab, book: Book, graph: Graph, rig: str) -> tuple[ReferenceCheck, ...]:
    """The checks of a rig that were reduced, in the order of time; those of one day in the order of the files."""
    mountings = _mountings(book, graph, rig)
    there = results.known(lab.database, lab.path, [each.key for each in mountings])
    nodes = [each for each in mountings if each.key in there]
    if not nodes:
        return ()
    way = way_of(lab, book, graph, nodes[0])
    nodes = [each for each in nodes if each.kind == nodes[0].kind]  # a rig serves one kind of test
    speed = check_speed(lab, nodes, way)
    eras = Eras(book)
    made, checks = [], []
    for node in nodes:
        kept, new = _check(lab, node, speed, way)
        made += [kept] if new else []
        body = kept.body
        checks.append(ReferenceCheck(node, eras.of(node), _when(node), body["values"], body["reading_u"],
                                     body["failed"]))  # fmt: skip
    if made:
        lab.put_results(made)
    return tuple(checks)


def check_speed(lab: Lab, nodes: Sequence[RigNode], way: Way) -> float | None:
    """The speed of all checks [1/s]: the greatest of the first check that has one, to whole 10 rpm."""
    for node in nodes:
        key = key_of("check speed", VERSION, node.key)
        kept = results.get(lab.database, key)
        if kept is None:
            if not results.known(lab.database, lab.path, [node.key]):
                continue
            top = way.top_speed(node)
            speed = None if top is None else round(top * 6.0) / 6.0
            kept = Result(key, "check speed", node.subject, {"mounting": node.key}, f"reference check {VERSION}", False,
                          {"speed": speed})  # fmt: skip
            lab.put_results([kept])
        if kept.body["speed"] is not None:
            return float(kept.body["speed"])
    return None


def _check(lab: Lab, node: RigNode, speed: float | None, way: Way) -> tuple[Result, bool]:
    """The values of one check, and whether they were worked out now."""
    measures = [measure_named(each.measure) for each in way.lines]
    key = key_of("reference check", VERSION, node.key, speed, way.hangs_on,
                 [(each.name, each.version) for each in measures])  # fmt: skip
    kept = results.get(lab.database, key)
    if kept is not None:
        return kept, False
    taken = way.take(node, speed)
    body = {"values": taken.values, "reading_u": taken.reading_u, "failed": taken.failed, "speed": speed}
    inputs = {"mounting": node.key, "obstacle": way.hangs_on}
    return Result(
        key, "reference check", node.subject, inputs, f"reference check {VERSION}", False, body
    ), True


def judged(checks: tuple[ReferenceCheck, ...], measure: str) -> dict[str, Check]:
    """What the control chart of a measure says of each check that has a value, {mounting: check}, era by era."""
    found: dict[str, Check] = {}
    for era in {each.era.number for each in checks}:
        own = [each for each in checks if each.era.number == era and measure in each.values]
        first = [each.reading_u[measure] for each in own[:10]]
        reading_u = sum(first) / len(first) if first else 0.0
        said = judge([each.values[measure] for each in own], reading_u=reading_u)
        found |= {each.mounting: check for each, check in zip(own, said, strict=True)}
    return found
