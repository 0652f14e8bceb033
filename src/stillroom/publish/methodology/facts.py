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
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import AnyNode
from stillroom.lab.sound.nodes import SoundNode
from stillroom.methods.airflow.chain import Chain
from stillroom.publish.contents import Contents
from stillroom.records.bench import Rig
from stillroom.store import results
from stillroom.store.results import Result

NOT_CALIBRATED = " (not calibrated)"
"""What stands behind an instrument's name where no calibration is known."""


@dataclass(frozen=True)
class Used:
    """An instrument as runs used it.

    Parameters
    ----------
    rig, quantity, instrument : names. under : (calibration in force, "" for none; the chain by which readings were
    understood, None of sound, whose chain is a microphone's), in the order of the runs.
    """

    rig: str
    quantity: str
    instrument: str
    under: tuple[tuple[str, Chain | None], ...]


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
        found: dict[tuple[str, str, str], dict[str, Chain | None]] = {}
        for rig, quantity, name, chain in self._chains():
            instrument = name.removesuffix(NOT_CALIBRATED).partition("@")[0]
            kept = "" if name.endswith(NOT_CALIBRATED) else name
            found.setdefault((rig, quantity, instrument), {}).setdefault(kept, chain)
        return tuple(Used(*key, tuple(own.items())) for key, own in sorted(found.items()))

    def _chains(self) -> Iterator[tuple[str, str, str, Chain | None]]:
        """(rig, quantity, instrument or calibration, chain) of each quantity of each run."""
        for each in (*self.nodes, *self.obstacles):
            if isinstance(each, SoundNode):
                yield from self._of_sound(each)
            elif isinstance(each, HeatNode):
                for log in each.members:
                    for quantity, name in log.calibrations.items():
                        yield each.rig, quantity, name, log.chains.get(quantity)
            elif isinstance(each, ControlNode):
                for run in each.runs:
                    own = {"speed": run.speed_chain, "current": run.current_chain}
                    for quantity, name in run.calibrations.items():
                        yield each.rig, quantity, name, own.get(quantity)
            else:
                for one in each.runs:
                    for quantity, name in one.calibrations.items():
                        yield one.placed.rig, quantity, name, one.bench.chains.get(quantity)

    def _of_sound(self, node: SoundNode) -> Iterator[tuple[str, str, str, Chain | None]]:
        """The microphone, and the calibrator where it was recorded."""
        own = calibrations_of(self.book)
        told = {"sound_pressure": node.microphone.name}
        told |= {"calibrator_level": node.microphone.calibrator} if node.calibrators else {}
        for quantity, name in told.items():
            if name in self.book.instruments:
                found = in_force(own.get(name, ()), node.date)
                yield node.rig, quantity, found.name if found else name + NOT_CALIBRATED, None

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
