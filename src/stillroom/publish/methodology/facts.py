"""What was done in a lab, gathered once for all parts of the methodology."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.benches import calibrations_of, in_force
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import AnyNode
from stillroom.lab.sound.nodes import SoundNode
from stillroom.publish.contents import Contents
from stillroom.records.bench import Rig
from stillroom.store import results
from stillroom.store.results import Result

NOT_CALIBRATED = " (not calibrated)"
"""What stands behind an instrument's name where no calibration is known."""

SOUND_ROLES = ("sound_pressure", "sound_level", "calibrator_level")
"""The roles of a quiet room's instruments: recordings tell none of theirs."""


@dataclass(frozen=True)
class Used:
    """An instrument as runs used it.

    Parameters
    ----------
    rig, quantity, instrument : names. calibrations : names of those in force, in the order of the runs; "" for none.
    """

    rig: str
    quantity: str
    instrument: str
    calibrations: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """What was done, as the parts of the methodology ask for it."""

    contents: Contents

    @property
    def book(self) -> Book:
        """The lab's records."""
        return self.contents.whole.book

    @cached_property
    def by_purpose(self) -> Mapping[Purpose, tuple[AnyNode, ...]]:
        """The mountings that are used, by what was measured; nothing of what was not measured."""
        graph = self.contents.whole.graph
        every = {each: tuple(graph.nodes(each)) for each in Purpose}
        return {each: nodes for each, nodes in every.items() if nodes}

    @property
    def nodes(self) -> tuple[AnyNode, ...]:
        """All of them."""
        return tuple(each for nodes in self.by_purpose.values() for each in nodes)

    def did(self, purpose: Purpose) -> bool:
        """Whether anything was measured for a purpose."""
        return purpose in self.by_purpose

    @cached_property
    def fans(self) -> tuple[str, ...]:
        """The fans of which anything is used."""
        return tuple(sorted({each.fan for each in self.nodes}))

    @cached_property
    def samples(self) -> Mapping[str, tuple[str, ...]]:
        """The samples of each fan that were measured."""
        found: dict[str, set[str]] = defaultdict(set)
        for each in self.nodes:
            found[each.fan].add(each.sample)
        return {fan: tuple(sorted(found[fan])) for fan in self.fans}

    @cached_property
    def obstacles(self) -> tuple[CurveNode, ...]:
        """The obstacles whose resistance was measured, each version."""
        own = (each for each in self.contents.whole.graph.curves if each.kind == "obstacle")
        return tuple(sorted(own, key=lambda each: each.subject))

    @cached_property
    def results(self) -> Mapping[str, Result]:
        """The results of mountings and obstacles, by key."""
        database = self.contents.lab.database
        found = (results.get(database, each.key) for each in (*self.nodes, *self.obstacles))
        return {each.key: each for each in found if each is not None}

    def good(self, nodes: Iterable[AnyNode]) -> Iterator[tuple[AnyNode, dict[str, Any]]]:
        """The nodes whose method could, with the body of their result."""
        for each in nodes:
            found = self.results.get(each.key)
            if found is not None and not found.failed:
                yield each, found.body

    def published(self, key: str) -> Result | None:
        """What is kept of a published value."""
        return results.get(self.contents.lab.database, key)

    @cached_property
    def placed(self) -> Mapping[Purpose, tuple[Placed, ...]]:
        """The files that are used, with their places; obstacles' among those of airflow."""
        found: dict[Purpose, dict[str, Placed]] = defaultdict(dict)
        for each in (*self.nodes, *self.obstacles):
            for one in _files(each):
                found[one.purpose].setdefault(one.run, one)
        return {each: tuple(found[each].values()) for each in Purpose if found[each]}

    @cached_property
    def rigs(self) -> Mapping[str, Purpose]:
        """The rigs that were used, and what for; "" stands for one that nobody named."""
        return {one.rig: purpose for purpose, every in self.placed.items() for one in every}

    def records_of(self, rig: str) -> list[Rig]:
        """The records of a rig, as it stood one time after the other."""
        return sorted(
            (each for each in self.book.rigs.values() if each.rig == rig), key=lambda each: each.since or ""
        )

    @cached_property
    def used(self) -> tuple[Used, ...]:
        """The instruments, as runs used them."""
        found: dict[tuple[str, str, str], list[str]] = {}
        for rig, quantity, name in self._calibrations():
            instrument = name.removesuffix(NOT_CALIBRATED).partition("@")[0]
            own = found.setdefault((rig, quantity, instrument), [])
            kept = "" if name.endswith(NOT_CALIBRATED) else name
            if kept not in own:
                own.append(kept)
        return tuple(Used(*key, tuple(own)) for key, own in sorted(found.items()))

    def _calibrations(self) -> Iterator[tuple[str, str, str]]:
        for each in (*self.nodes, *self.obstacles):
            if isinstance(each, SoundNode):
                yield from self._of_sound(each)
                continue
            for listed in each.inputs.values():
                for run in listed:
                    for quantity, name in run["calibrations"].items():
                        yield run["rig"], quantity, name

    def _of_sound(self, node: SoundNode) -> Iterator[tuple[str, str, str]]:
        """A quiet room's instruments by its record: what a recording was made with, only the room tells."""
        rig = rig_on(self.book.rigs, node.rig, node.date)
        own = calibrations_of(self.book)
        for quantity in SOUND_ROLES:
            name = ((rig.roles if rig else None) or {}).get(quantity, "")
            if name in self.book.instruments:
                found = in_force(own.get(name, ()), node.date)
                yield node.rig, quantity, found.name if found else name + NOT_CALIBRATED

    @cached_property
    def nozzles(self) -> tuple[str, ...]:
        """The nozzles through which air went, by name."""
        runs = (
            run
            for node in (*self.obstacles, *self.by_purpose.get(Purpose.AIRFLOW, ()))
            for run in node.inputs["runs"]
        )
        return tuple(sorted({name for run in runs for name in run["nozzles"]}))

    def all_days(self, nodes: Sequence[AnyNode]) -> list[str]:
        """The days of some mountings; "" of one of which only the arrival of its files is known."""
        return [next((one.told_date for one in _files(each) if one.told_date), "") for each in nodes]


def _files(node: AnyNode) -> list[Placed]:
    """The files that a node rests on."""
    if isinstance(node, SoundNode | HeatNode):
        return [each.run.placed for each in node.members]
    return [each.placed for each in node.runs]
