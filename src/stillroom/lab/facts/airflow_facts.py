"""Facts of runs, mountings, fans and obstacles in a chamber, as the rules of airflow are told them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from stillroom.lab import versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book, Placed, place_all
from stillroom.lab.checking import CHECK
from stillroom.lab.eras.eras import Eras
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.facts.kept_values import KeptValues
from stillroom.lab.facts.run_facts import reading, run_facts
from stillroom.lab.recipes import Graph
from stillroom.methods.airflow.kept import fan_of, obstacle_of
from stillroom.quality import VERSION
from stillroom.quality.facts import (
    FanFacts,
    Gauge,
    MountingFacts,
    ObstacleFacts,
    ReadingFacts,
    RunFacts,
)
from stillroom.records.acts import Decision, Event
from stillroom.records.bench import Obstacle
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.products import Price, Sample
from stillroom.store import results
from stillroom.store.lab import Lab

TOUCHES = re.compile(r"seal|nozzle|gauge|tube|hose|chang|replac|clean|moved|dropped|repair", re.IGNORECASE)
"""Words of the log that speak of something which may have changed results."""

SAME_TILE = 5e-3
"""An obstacle's opening and a fan's frame are of one size within this [m]."""


def told_date(book: Book, placed: Placed) -> str:
    """The day on which a mounting was made, or "": the day on which its file came in says nothing."""
    record = book.mountings.get(placed.mounting)
    return ((record.date if record else None) or placed.told_date or "")[:10]


@dataclass(frozen=True)
class AirflowGathering:
    """Gathers facts of the airflow of one lab as it stands.

    Parameters
    ----------
    lab, book, graph : the lab, its records and its recipes. values : its values that were kept.
    """

    lab: Lab
    book: Book
    graph: Graph
    values: KeptValues

    # --- keys ------------------------------------------------------------------------------------------

    def fan_key(self, fan: str, nodes: Sequence[CurveNode]) -> str:
        """Key of a fan's check: everything that its rules read."""
        book = self.book
        curves = [(each.key, each.judged, each.obstacle, self._told_of_runs(each)) for each in nodes]
        record = book.fans.get(fan)
        told = [as_json(each) for each in (*_prices(book, fan), *_samples(book, fan),
                                           *self._log(nodes), *self._exclusions(fan))]  # fmt: skip
        obstacles = [self.obstacle_key(each) for each in self.obstacles_of(fan)]
        shown = self.values.published(fan), self.values.contends(fan)
        return key_of(CHECK, VERSION, fan, curves, as_json(record) if record else None, told, obstacles, shown,
                      _repeatability(book), self._limits, self._gauge_key)  # fmt: skip

    def obstacle_key(self, node: CurveNode) -> str:
        """Key of an obstacle's check."""
        record = self.book.obstacles.get(node.subject)
        return key_of(CHECK, VERSION, node.key, node.judged, self._told_of_runs(node), self._dusty(node),
                      as_json(record) if record else None, self._limits, self._gauge_key)  # fmt: skip

    def _told_of_runs(self, node: CurveNode) -> list[Any]:
        return [
            (told_date(self.book, each.placed), each.placed.registered, each.placed.direction,
             each.placed.setting_kind, as_json(each.placed.row) if each.placed.row else None)
            for each in node.runs
        ]  # fmt: skip

    @cached_property
    def _eras(self) -> Eras:
        return Eras(self.book)

    @cached_property
    def _limits(self) -> dict[str, tuple[float, float]]:
        return self.book.settings.limits.changed()

    @cached_property
    def _gauge_key(self) -> str:
        parts = [(each.name, each.resolution, each.span) for each in self.book.instruments.values()]
        return key_of("gauges", sorted(parts), sorted(self._spans.items()))

    # --- fans ------------------------------------------------------------------------------------------

    def fan(self, fan: str, nodes: Sequence[CurveNode]) -> FanFacts:
        """All that the rules ask of a fan."""
        book = self.book
        mountings = [self._mounting(each) for each in nodes]
        log = self._log(nodes)
        return FanFacts(
            name=fan,
            record=book.fans.get(fan),
            mountings=tuple(sorted(mountings, key=lambda each: (each.date, each.name))),
            prices=_prices(book, fan),
            repeatability=_repeatability(book),
            limits=book.settings.limits,
            samples={each.sample: each for each in _samples(book, fan)},
            log=log,
            obstacles=tuple(self.obstacle(each) for each in self.obstacles_of(fan)),
            published=self.values.published(fan),
            contends=self.values.contends(fan),
            exclusions=self._exclusions(fan),
        )

    def _log(self, nodes: Sequence[CurveNode]) -> tuple[Event, ...]:
        """Events on the rigs that the mountings used which change results, or may well do."""
        rigs = {run.placed.rig for node in nodes for run in node.runs}
        found = [each for each in self.book.events.values() if each.rig is None or each.rig in rigs]
        touching = [each for each in found if each.changes_results or TOUCHES.search(each.text)]
        return tuple(sorted(touching, key=lambda each: each.time))

    def obstacles_of(self, fan: str) -> list[CurveNode]:
        """The obstacles that a fan is compared through: the lab's references, else all of its size."""
        record = self.book.fans.get(fan)
        size = record.size if record else None
        found = []
        for node in self._compared_through:
            told = self.book.obstacles.get(node.subject)
            tile = told.tile_size if told else None
            if not size or not tile or abs(size - tile) < SAME_TILE:
                found.append(node)
        return found

    @cached_property
    def _compared_through(self) -> list[CurveNode]:
        """The latest versions of the reference obstacles; of all where the lab names none."""
        every = (versions.bare(each.subject) for each in self.graph.curves if each.kind == "obstacle")
        names = self.book.settings.references or tuple(dict.fromkeys(every))
        pieces = dict.fromkeys(piece.strip() for name in names for piece in name.split("+"))
        nodes = (self.graph.obstacle(piece) for piece in pieces)
        return [each for each in nodes if each is not None]

    def _exclusions(self, fan: str) -> tuple[Decision, ...]:
        subjects = self._subjects.get(fan, set())
        return tuple(each for each in self.book.decisions.values()
                     if each.action == "exclude" and each.subject in subjects)  # fmt: skip

    @cached_property
    def _subjects(self) -> dict[str, set[str]]:
        """{fan: its runs and mountings, as findings name them}."""
        found: dict[str, set[str]] = defaultdict(set)
        for placed in place_all(self.book):
            found[placed.fan].update({f"run:{placed.run}", f"mounting:{placed.mounting}"})
        return found

    # --- mountings and obstacles -------------------------------------------------------------------------

    def _mounting(self, node: CurveNode) -> MountingFacts:
        result = results.get(self.lab.database, node.key)
        bodies: Sequence[Mapping[str, Any]] = result.body.get("runs", ()) if result else ()
        runs: tuple[RunFacts, ...] = ()
        unfitted: tuple[ReadingFacts, ...] = ()
        curve, failed = None, "not reduced yet" if result is None else result.failed
        if failed:
            pairs = zip(node.runs, bodies, strict=True) if bodies else ()
            unfitted = tuple(ReadingFacts(**reading(*each)) for each in pairs)
        else:
            arrays = results.load_arrays(self.lab.path, node.key)
            curve = fan_of(result.body, arrays).characteristic if result else None
            runs = tuple(run_facts(node.runs, bodies, arrays, curve)) if curve else ()
        first = node.runs[0]
        return MountingFacts(
            name=node.subject,
            fan=node.fan,
            sample=node.sample,
            obstacle=node.obstacle,
            rig=first.placed.rig,
            date=told_date(self.book, first.placed),
            judged=node.judged,
            registered=all(each.placed.registered for each in node.runs),
            runs=runs,
            curve=curve,
            failed=failed,
            diameter=node.diameter,
            bores=_bores(node),
            unfitted=unfitted,
            gauges=self._gauges(first.placed.rig, first.placed.date),
            era=self._eras.of(node).number,
        )

    def obstacle(self, node: CurveNode) -> ObstacleFacts:
        """All that the rules ask of an obstacle; gathered once."""
        if node.subject not in self._gathered:
            self._gathered[node.subject] = self._obstacle(node)
        return self._gathered[node.subject]

    @cached_property
    def _gathered(self) -> dict[str, ObstacleFacts]:
        return {}

    def _obstacle(self, node: CurveNode) -> ObstacleFacts:
        result = results.get(self.lab.database, node.key)
        failed = "not reduced yet" if result is None else result.failed
        bodies: Sequence[Mapping[str, Any]] = result.body.get("runs", ()) if result else ()
        measured = None
        if result is not None and not failed:
            measured = obstacle_of(result.body, results.load_arrays(self.lab.path, node.key))
        record = self.book.obstacles.get(node.subject)
        first = node.runs[0].placed
        return ObstacleFacts(
            name=node.subject,
            version=(record.version if record else None) or "",
            rig=first.rig,
            words=_words(record),
            tile=record.tile_size if record else None,
            judged=node.judged,
            date=max(told_date(self.book, each.placed) for each in node.runs),
            runs=tuple(ReadingFacts(**reading(*each)) for each in zip(node.runs, bodies, strict=True))
            if bodies
            else (),
            resistance=measured.resistance if measured else None,
            failed=failed,
            density=measured.density if measured else 0.0,
            viscosity=measured.viscosity if measured else 0.0,
            bores=_bores(node),
            gauges=self._gauges(first.rig, first.date),
            dusty=self._dusty(node),
        )

    def _dusty(self, node: CurveNode) -> str:
        """The last entry in the log that names the obstacle and calls it dusty, or ""."""
        said = [f"{each.time[:10]} {each.text}" for each in self.book.events.values()
                if node.subject.casefold() in each.text.casefold()]  # fmt: skip
        return next((each for each in reversed(said) if "dusty" in each.casefold()), "")

    def _gauges(self, rig: str, date: str) -> dict[str, Gauge]:
        record = rig_on(self.book.rigs, rig, date)
        roles = (record.roles if record else None) or {}
        found = {}
        for quantity, name in roles.items():
            instrument = self.book.instruments.get(name)
            if instrument is not None:
                span = instrument.span or self._spans.get(name)
                found[quantity] = Gauge(instrument.resolution, span)
        return found

    @cached_property
    def _spans(self) -> dict[str, float]:
        """{instrument: how far its calibrations go}, in the SI unit of its quantity."""
        found: dict[str, float] = {}
        for each in self.book.calibrations.values():
            for part in each.linearity or ():
                found[each.instrument] = max(found.get(each.instrument, 0.0), float(part["to"]))
        return found


def _bores(node: CurveNode) -> dict[str, float]:
    return {name: each.bore for name, each in node.runs[0].bench.nozzles.items()}


def _words(record: Obstacle | None) -> str:
    return "; ".join(filter(None, (record.description, getattr(record, "note", None)))) if record else ""


def _prices(book: Book, fan: str) -> tuple[Price, ...]:
    return tuple(each for each in book.prices.values() if each.fan == fan)


def _samples(book: Book, fan: str) -> tuple[Sample, ...]:
    return tuple(each for each in book.samples.values() if each.fan == fan)


def _repeatability(book: Book) -> float | None:
    """The greatest agreed spread between mountings; None where none is agreed."""
    return max((each.mounting for each in book.spreads.values()), default=None)
