"""The recipe graph: every result as a node whose key holds all that it hangs on.

    taken file + layout + reader ─┐
    calibrations, nozzles, rig  ──┴→ run → mounting ─┐
                                     run → obstacle ─┴→ value of a mounting → value of a fan → ranking

A key is made without computing anything, so that what is there already is found before any work is done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab import versions
from stillroom.lab.benches import Benches
from stillroom.lab.book import Book, Placed, place_all
from stillroom.lab.control.graph import controls_of
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.heat.graph import heats_of
from stillroom.lab.heat.nodes import HeatNode, LogNode
from stillroom.lab.sound.graph import sounds_of
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.methods.airflow import mounting as mounting_method
from stillroom.methods.airflow import obstacle as obstacle_method
from stillroom.methods.airflow.bench import Bench
from stillroom.records.bench import Obstacle
from stillroom.records.keys import key_of

UNKNOWN_DIAMETER = 0.12
"""Reference diameter where nobody told the fan's size [m]; it cancels within one fan."""


@dataclass(frozen=True)
class RunNode:
    """One run: what is read, on which bench.

    Parameters
    ----------
    key : of the run. placed : the file with its place. bench : the rig as used.
    calibrations : names of the calibrations in force, by quantity.
    """

    key: str
    placed: Placed
    bench: Bench
    calibrations: dict[str, str]


@dataclass(frozen=True)
class CurveNode:
    """A mounting of a fan or an obstacle: what is fitted from which runs.

    Parameters
    ----------
    key : of the result. kind : "mounting" or "obstacle". subject : its name. fan, sample : names, or "".
    obstacle : what stood before the fan, or the obstacle itself; "" for a bare fan.
    diameter : reference diameter [m]. runs : the runs used. left_out : runs that a decision excludes.
    trials : number of trials. judged : key of what findings judge: the same, with nothing left out.
    top : the fan's greatest setting over all its mountings; None where no setting was told.
    """

    key: str
    kind: str
    subject: str
    fan: str
    sample: str
    obstacle: str
    diameter: float
    runs: tuple[RunNode, ...]
    left_out: tuple[RunNode, ...]
    trials: int
    judged: str
    top: float | None

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role."""
        return {
            "runs": [
                {
                    "run": each.placed.run,
                    "key": each.key,
                    "file": each.placed.taken.words,
                    "calibrations": each.calibrations,
                    "nozzles": list(each.placed.taken.nozzles or ()),
                    "rig": each.placed.rig,
                    "setting": each.placed.setting_word,
                }
                for each in self.runs
            ]
        }

    @property
    def rig(self) -> str:
        """The rig: of its first run."""
        return self.runs[0].placed.rig

    @property
    def date(self) -> str:
        """When it was measured: its first run, ISO 8601."""
        return self.runs[0].placed.date

    @property
    def blocked_as(self) -> str:
        """Under which name it is blocked while a finding is open."""
        return self.subject

    @property
    def method(self) -> str:
        """The method with its version."""
        module = mounting_method if self.kind == "mounting" else obstacle_method
        return f"airflow {self.kind} {module.VERSION}"


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
    excluded: frozenset[tuple[str, str]] = frozenset()
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
        others = {each.fan for each in self.heats} | {each.fan for each in self.controls}
        return {each.fan for each in self.mountings()} | {each.fan for each in self.sounds} | others

    def sounding(self, fan: str = "") -> list[SoundNode]:
        """The sound nodes, of one fan where it is named."""
        return [each for each in self.sounds if fan in {"", each.fan}]

    def heating(self, fan: str = "") -> list[HeatNode]:
        """The heat nodes, of one fan where it is named."""
        return [each for each in self.heats if fan in {"", each.fan}]

    def controlled(self, fan: str = "") -> list[ControlNode]:
        """The control nodes, of one fan where it is named."""
        return [each for each in self.controls if fan in {"", each.fan}]

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
    groups: dict[tuple[str, ...], list[RunNode]] = defaultdict(list)
    unplaced: list[tuple[Placed, str]] = []
    benches = Benches(book)
    every = place_all(book)
    for placed in (each for each in every if not (each.is_sound or each.is_heat or each.is_control)):
        try:
            key, used = benches.run(placed)
        except StillroomError as error:
            unplaced.append((placed, error.sentence()))
            continue
        node = RunNode(key, placed, used.bench, used.calibrations)
        if placed.is_obstacle and not placed.obstacle:
            unplaced.append((placed, "neither a fan nor an obstacle is named for it"))
        elif placed.is_obstacle:
            groups[("obstacle", placed.obstacle)].append(node)
        else:
            groups[("mounting", placed.mounting, placed.fan, placed.sample, placed.obstacle)].append(node)
    excluded = _excluded(book)
    tops = _tops(groups)
    curves = [
        _curve_node(
            book, group, nodes, excluded, tops.get((group[2], _leading(nodes))) if group[2:] else None
        )
        for group, nodes in groups.items()
    ]
    sound = sounds_of(book, [each for each in every if each.is_sound], excluded, tops)
    heat = heats_of(book, [each for each in every if each.is_heat], excluded)
    control = controls_of(book, [each for each in every if each.is_control], excluded, benches)
    return Graph(
        tuple(each for each in curves if each.runs),
        (*unplaced, *sound.unplaced, *heat.unplaced, *control.unplaced),
        book.obstacles,
        frozenset(excluded & (_judged(curves) | sound.judged | heat.judged | control.judged)),
        sound.sounds,
        sound.recordings,
        heat.heats,
        heat.logs,
        control.controls,
    )


def _judged(curves: Iterable[CurveNode]) -> set[tuple[str, str]]:
    """(subject, key) of all that a decision can exclude, as it stands now."""
    judged = {(f"mounting:{each.subject}", each.judged) for each in curves}
    return judged | {
        (f"run:{run.placed.run}", run.key) for each in curves for run in (*each.runs, *each.left_out)
    }


def _tops(groups: Mapping[tuple[str, ...], list[RunNode]]) -> dict[tuple[str, str], float]:
    """The greatest setting of each fan by kind: full setting is the same for all its mountings."""
    tops: dict[tuple[str, str], float] = {}
    for nodes in groups.values():
        for each in nodes:
            placed = each.placed
            if placed.fan and placed.setting is not None:
                kind = (placed.fan, placed.setting_kind)
                tops[kind] = max(tops.get(kind, 0.0), placed.setting)
    return tops


def _leading(nodes: Iterable[RunNode]) -> str:
    """The kind of setting by which a mounting's full setting is told: duty before volts before speed."""
    kinds = {each.placed.setting_kind for each in nodes}
    return next((each for each in mounting_method.KINDS if each in kinds), "")


def _excluded(book: Book) -> set[tuple[str, str]]:
    """(subject, key) of what people have excluded; it lapses when the key moves."""
    return {(each.subject, each.key) for each in book.decisions.values() if each.action == "exclude"}


def _curve_node(
    book: Book,
    group: tuple[str, ...],
    nodes: list[RunNode],
    excluded: set[tuple[str, str]],
    top: float | None,
) -> CurveNode:
    kind, subject = group[0], group[1]
    fan, sample, obstacle = group[2:] if kind == "mounting" else ("", "", subject)
    record = book.fans.get(fan)
    diameter = (record.size if record else None) or UNKNOWN_DIAMETER
    ordered = sorted(nodes, key=_in_order)
    settings = (subject, diameter, top, book.settings.trials)
    judged = _key(kind, settings, ordered)
    whole = (f"mounting:{subject}", judged) in excluded
    kept = [each for each in ordered if not whole and (f"run:{each.placed.run}", each.key) not in excluded]
    return CurveNode(
        key=_key(kind, settings, kept),
        kind=kind,
        subject=subject,
        fan=fan,
        sample=sample,
        obstacle=obstacle,
        diameter=diameter,
        runs=tuple(kept),
        left_out=tuple(each for each in ordered if each not in kept),
        trials=book.settings.trials,
        judged=judged,
        top=top,
    )


def _in_order(node: RunNode) -> tuple[float, str, int]:
    """By setting, then by file and part."""
    placed = node.placed
    return placed.setting or 0.0, placed.taken.file, placed.taken.part or 0


def _key(kind: str, settings: tuple[Any, ...], nodes: Iterable[RunNode]) -> str:
    module = mounting_method if kind == "mounting" else obstacle_method
    parts = [
        (each.key, each.placed.setting, each.placed.setting_kind, each.placed.direction) for each in nodes
    ]
    return key_of(kind, module.VERSION, settings, parts)
