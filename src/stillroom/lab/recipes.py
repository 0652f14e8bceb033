"""The recipe graph: every result as a node whose key holds all that it hangs on.

    taken file + layout + reader ─┐
    calibrations, nozzles, rig  ──┴→ run → mounting ─┐
                                     run → obstacle ─┴→ value of a mounting → value of a fan → ranking

A key is made without computing anything, so that what is there already is found before any work is done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from stillroom.lab import versions
from stillroom.lab.airflow.graph import curves_of
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.benches import Benches
from stillroom.lab.book import Book, Placed, place_all
from stillroom.lab.control.graph import controls_of
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.heat.graph import heats_of
from stillroom.lab.heat.nodes import HeatNode, LogNode
from stillroom.lab.judged import Judged, excluded_in
from stillroom.lab.purposes import Purpose
from stillroom.lab.sound.graph import sounds_of
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.records.bench import Obstacle

AnyNode: TypeAlias = CurveNode | SoundNode | HeatNode | ControlNode
"""A mounting, by whatever it was measured for; of airflow an obstacle too."""


@dataclass(frozen=True)
class Graph:
    """All curve nodes of a lab, the runs that can't be placed, with why, and the records of obstacles.

    `excluded` holds (subject, key) of the exclusions that stand: what they judged is still as it was.
    `sounds` are the mountings whose sound was recorded, `recordings` all recordings and tables of levels; `heats` the
    mountings on heat rigs, `logs` all files of their loggers; `controls` the mountings whose control was tested.
    """

    curves: tuple[CurveNode, ...]
    unplaced: tuple[tuple[Placed, str], ...]
    obstacles: Mapping[str, Obstacle] = field(default_factory=dict)
    excluded: frozenset[Judged] = frozenset()
    sounds: tuple[SoundNode, ...] = ()
    recordings: tuple[RecordingNode, ...] = ()
    heats: tuple[HeatNode, ...] = ()
    logs: tuple[LogNode, ...] = ()
    controls: tuple[ControlNode, ...] = ()

    def mountings(self, fan: str = "") -> list[CurveNode]:
        """The mounting nodes, of one fan where it is named."""
        return [each for each in self.curves if each.kind == "mounting" and fan in {"", each.fan}]

    @property
    def fans(self) -> set[str]:
        """The names of all fans of which anything was measured."""
        return {each.fan for purpose in Purpose for each in self.nodes(purpose)}

    def sounding(self, fan: str = "") -> list[SoundNode]:
        """The sound nodes, of one fan where it is named."""
        return [each for each in self.sounds if fan in {"", each.fan}]

    def heating(self, fan: str = "") -> list[HeatNode]:
        """The heat nodes, of one fan where it is named."""
        return [each for each in self.heats if fan in {"", each.fan}]

    def controlled(self, fan: str = "") -> list[ControlNode]:
        """The control nodes, of one fan where it is named."""
        return [each for each in self.controls if fan in {"", each.fan}]

    def nodes(self, purpose: Purpose, fan: str = "") -> list[AnyNode]:
        """The nodes of what was measured of fans for one purpose, of one fan where it is named."""
        every: dict[Purpose, Sequence[AnyNode]] = {
            Purpose.AIRFLOW: self.mountings(),
            Purpose.SOUND: self.sounds,
            Purpose.HEAT: self.heats,
            Purpose.CONTROL: self.controls,
        }
        return [each for each in every[purpose] if fan in {"", each.fan}]

    def obstacle(self, name: str) -> CurveNode | None:
        """The node of an obstacle's resistance: of the version told, else of the latest that was measured; None
        where there is none.
        """
        nodes = {each.subject: each for each in self.curves if each.kind == "obstacle"}
        return nodes.get(versions.latest(_arrivals(nodes.items()), self.obstacles, name))

    def mounted_obstacle(self, name: str) -> str:
        """Which version fans were measured with mounted, by the same rule; "" where none were."""
        return versions.latest(self._mounted(), self.obstacles, name)

    def undecided_versions(self, name: str) -> list[str]:
        """The versions of an obstacle of which none is the latest: several came at once and have no date."""
        measured = _arrivals((each.subject, each) for each in self.curves if each.kind == "obstacle")
        several = (versions.last_versions(each, self.obstacles, name) for each in (measured, self._mounted()))
        return next((each for each in several if len(each) > 1), [])

    def _mounted(self) -> dict[str, str]:
        return _arrivals((each.obstacle, each) for each in self.mountings() if each.obstacle)


def _arrivals(nodes: Iterable[tuple[str, CurveNode]]) -> dict[str, str]:
    """{name: when its first run came in} of obstacles."""
    found: dict[str, str] = {}
    for name, node in nodes:
        first = min(each.placed.taken.arrived or each.placed.taken.date for each in node.runs)
        found[name] = min(found.get(name, first), first)
    return found


def build_graph(book: Book) -> Graph:
    """The recipe graph of a lab as its book stands."""
    excluded, benches, every = excluded_in(book), Benches(book), place_all(book)
    airflow = curves_of(book, [each for each in every if each.is_airflow], excluded, benches)
    sound = sounds_of(book, [each for each in every if each.is_sound], excluded, airflow.tops)
    heat = heats_of(book, [each for each in every if each.is_heat], excluded)
    control = controls_of(book, [each for each in every if each.is_control], excluded, benches)
    return Graph(
        airflow.curves,
        (*airflow.unplaced, *sound.unplaced, *heat.unplaced, *control.unplaced),
        book.obstacles,
        frozenset(excluded & (airflow.judged | sound.judged | heat.judged | control.judged)),
        sound.sounds,
        sound.recordings,
        heat.heats,
        heat.logs,
        control.controls,
    )
