"""What the other rigs say of a heat run: airflow through its radiator, and speeds at its settings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.mounted import MountedFan
from stillroom.core.speeds import SAME
from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan
from stillroom.lab.heat.laws import flow_through
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.through import load_of, through_of
from stillroom.quality.heat import ExpectedSpeed
from stillroom.store import results
from stillroom.store.lab import Lab

FULL_DUTY, FULL_VOLTS = 0.99, 11.9
"""From these on a setting is full, and the box says its speed."""


def is_known(lab: Lab, key: str) -> bool:
    """Whether a result has been worked out."""
    return key in results.known(lab.database, lab.path, [key])


@dataclass(frozen=True)
class Elsewhere:
    """What other rigs of a lab say of its heat runs."""

    lab: Lab
    book: Book
    graph: Graph

    def radiators(self, fan: str) -> list[str]:
        """The radiators through which a fan blew on heat rigs."""
        return sorted({each.radiator for each in self.graph.heating(fan) if each.radiator})

    def obstacles(self, radiator: str) -> tuple[CurveNode, ...]:
        """The measured obstacles that a radiator consists of, as far as they are worked out."""
        try:
            nodes = through_of(self.book, self.graph, radiator).nodes
        except StillroomError:
            return ()
        return tuple(each for each in nodes if is_known(self.lab, each.key))

    def airflows(self, node: HeatNode, steps: Sequence[HeatStep]) -> dict[int, float]:
        """{step: airflow through the radiator by the chamber, of all fans on it [m³/s]}, where it is known."""
        found: dict[int, float] = {}
        try:
            through = through_of(self.book, self.graph, node.radiator)
            kept = {each.key: results.get(self.lab.database, each.key) for each in through.nodes}
            if not node.radiator or not all(each is not None and not each.failed for each in kept.values()):
                return {}
            load = load_of(self.lab.path, through, {key: each for key, each in kept.items() if each})
        except StillroomError:
            return {}
        fans = [fan for obstacle, fan in self._swept(node.fan) if obstacle == through.mounted]
        for step in steps:
            if not step.is_result or step.speed is None:
                continue
            flows = []
            for fan in fans:
                try:
                    flows.append(flow_through(fan, load, step.speed))
                except StillroomError:
                    continue  # beyond the speeds that the chamber tested
            if flows:
                found[step.number] = float(np.median(flows)) * node.rig_told.fans
        return found

    def _swept(self, fan: str) -> list[tuple[str, MountedFan]]:
        """(what stood before it, the fan as it was swept) of each airflow mounting; those of the last fan are kept."""
        if fan not in self._swept_kept:
            self._swept_kept.clear()
            pairs = [
                (each.obstacle, results.get(self.lab.database, each.key))
                for each in self.graph.mountings(fan)
            ]
            self._swept_kept[fan] = [
                (obstacle, load_fan(self.lab.path, result))
                for obstacle, result in pairs
                if result is not None and not result.failed
            ]
        return self._swept_kept[fan]

    @cached_property
    def _swept_kept(self) -> dict[str, list[tuple[str, MountedFan]]]:
        return {}

    def speeds(self, node: HeatNode, steps: Sequence[HeatStep]) -> dict[int, ExpectedSpeed]:
        """{step: what else is known of its speed}: by sound, by airflow, at full setting by the box."""
        found = {}
        for step in steps:
            expected = next(self._expected(node.fan, step), None)
            if expected is not None:
                found[step.number] = expected
        return found

    def _expected(self, fan: str, step: HeatStep) -> Iterator[ExpectedSpeed]:
        if step.setting is None:
            return
        for by, kind, settings, speeds in self._known_speeds(fan):
            inside = settings[0] * (1.0 - SAME) <= step.setting <= settings[-1] * (1.0 + SAME)
            if kind == step.setting_kind and inside:
                yield ExpectedSpeed(float(np.interp(step.setting, settings, speeds)), by)
        record = self.book.fans.get(fan)
        full = {"duty": FULL_DUTY, "volts": FULL_VOLTS}.get(step.setting_kind)
        if record is not None and record.full_speed and full is not None and step.setting >= full:
            yield ExpectedSpeed(record.full_speed, "the box says")

    def _known_speeds(self, fan: str) -> list[tuple[str, str, Any, Any]]:
        """(by what, kind, settings, speeds) of a fan's other mountings; gathered once, the median of several last."""
        if fan not in self._speeds_kept:
            self._speeds_kept[fan] = [*self._by_airflow(fan), *self._by_sound(fan)]
        return self._speeds_kept[fan]

    @cached_property
    def _speeds_kept(self) -> dict[str, list[tuple[str, str, Any, Any]]]:
        return {}

    def _by_airflow(self, fan: str) -> Iterator[tuple[str, str, Any, Any]]:
        """The settings of each airflow mounting: speed where the fan blows against its highest pressure."""
        told: dict[tuple[str, float], list[float]] = defaultdict(list)
        for _, swept in self._swept(fan):
            for each in swept.settings:
                for setting, row in zip(each.values, each.central, strict=True):
                    told[each.kind, round(float(setting), 4)].append(float(row[0]))
        yield from _medians("in the chamber it turned at", told)

    def _by_sound(self, fan: str) -> Iterator[tuple[str, str, Any, Any]]:
        told: dict[tuple[str, float], list[float]] = defaultdict(list)
        for node in self.graph.sounding(fan):
            result = results.get(self.lab.database, node.key)
            if result is None or result.failed:
                continue
            for kind, pairs in load_sound(self.lab.path, result).settings.items():
                for setting, speed in pairs:
                    told[kind, round(setting, 4)].append(speed)
        yield from _medians("in the quiet room it turned at", told)


AGREED = 0.05
"""Mountings whose speeds at one setting are within this of their median agree [1]."""


def _medians(
    by: str, told: Mapping[tuple[str, float], Sequence[float]]
) -> Iterator[tuple[str, str, Any, Any]]:
    """The median speed at each setting, of each kind of setting: of several mountings one may be wrong.

    A setting at which two mountings contradict each other tells nothing.
    """
    for kind in sorted({kind for kind, _ in told}):
        settings = [
            setting for own, setting in sorted(told) if own == kind and _is_agreed(told[own, setting])
        ]
        speeds = [float(np.median(told[kind, setting])) for setting in settings]
        if settings:
            yield by, kind, np.array(settings), np.array(speeds)


def _is_agreed(speeds: Sequence[float]) -> bool:
    """Whether their median is told by one mounting at least."""
    middle = float(np.median(speeds))
    return any(abs(each / middle - 1.0) < AGREED for each in speeds)
