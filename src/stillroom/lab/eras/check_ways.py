"""What is watched of the reference fan on each kind of rig, and how a check's values are taken from one mounting.

A check is taken at one given speed: of airflow by the fan laws, of level and heat along the mounting's own curve and,
beside its only speed, by the usual exponents. So the supply doesn't matter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, load_obstacle, result_of
from stillroom.lab.eras.along import along_of
from stillroom.lab.eras.rig_nodes import RigNode
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition, evaluate, measure_named
from stillroom.measures.heat import HEAT
from stillroom.measures.sound import LEVEL
from stillroom.store import results
from stillroom.store.lab import Lab

FEW_TRIALS = 200
"""Trials with which a check is taken: its value needs none, the speed's own uncertainty some."""

SUPPLY = 0.1
"""How far a check's own speeds may lie from the speed of the checks: the fan laws bridge so much [1]."""


@dataclass(frozen=True)
class Line:
    """One line of the control chart: a measure, at the checks' speed or at full setting."""

    measure: str
    at_speed: bool = True
    through: bool = False


AIRFLOW_LINES = (
    Line("free-airflow"),
    Line("maximum-pressure"),
    Line("airflow", through=True),
    Line("free-speed", at_speed=False),
)
"""In the chamber; airflow through the lab's first reference obstacle, where one is named."""

SOUND_LINES = (Line(LEVEL),)
"""In the quiet room."""

HEAT_LINES = (Line(HEAT),)
"""On a heat rig."""

LINES = (*AIRFLOW_LINES, *SOUND_LINES, *HEAT_LINES)
"""What is watched of the reference fan, on whichever rig."""


@dataclass
class Taken:
    """The values of one check: {measure: value}, {measure: standard uncertainty by readings}, {measure: why none}."""

    values: dict[str, float]
    reading_u: dict[str, float]
    failed: dict[str, str]

    @classmethod
    def of(cls, lines: Sequence[Line], take: Callable[[Line], tuple[float, float]]) -> Taken:
        """Take each line; what could not be had says why."""
        taken = cls({}, {}, {})
        for line in lines:
            try:
                taken.values[line.measure], taken.reading_u[line.measure] = take(line)
            except StillroomError as error:
                taken.failed[line.measure] = error.sentence()
        return taken


class Way(Protocol):
    """How checks of one kind of rig are taken."""

    @property
    def lines(self) -> tuple[Line, ...]:
        """What can be watched."""

    @property
    def hangs_on(self) -> str:
        """Key of what a check hangs on beside its mounting, or ""."""

    def top_speed(self, node: RigNode) -> float | None:
        """The greatest speed of a mounting [1/s]; None where none was read."""

    def take(self, node: RigNode, speed: float | None) -> Taken:
        """The values of one mounting at the checks' speed [1/s]."""


def way_of(lab: Lab, book: Book, graph: Graph, node: RigNode) -> Way:
    """How checks are taken on the rig of a mounting."""
    if isinstance(node, CurveNode):
        return AirflowChecks(lab, watched_obstacle(lab, book, graph))
    return CurveChecks(lab, HEAT_LINES if isinstance(node, HeatNode) else SOUND_LINES)


# --- airflow -----------------------------------------------------------------------------------------------


def watched_obstacle(lab: Lab, book: Book, graph: Graph) -> CurveNode | None:
    """The first reference obstacle, where one is named and was reduced."""
    for name in book.settings.references[:1]:
        node = graph.obstacle(name)
        if node and results.known(lab.database, lab.path, [node.key]):
            return node
    return None


@dataclass(frozen=True)
class AirflowChecks:
    """Checks in a chamber, through an obstacle where one is watched."""

    lab: Lab
    obstacle: CurveNode | None

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines, without that through an obstacle where none is watched."""
        return tuple(each for each in AIRFLOW_LINES if self.obstacle or not each.through)

    @property
    def hangs_on(self) -> str:
        """Key of the obstacle."""
        return self.obstacle.key if self.obstacle else ""

    def top_speed(self, node: RigNode) -> float | None:
        """The greatest speed of the sweeps [1/s]."""
        result = results.get(self.lab.database, node.key)
        return None if result is None or result.failed else load_fan(self.lab.path, result).speeds[1]

    def take(self, node: RigNode, speed: float | None) -> Taken:
        """Each line from the fan's curve; errors of the trials tell only the speed's own uncertainty: what lies
        between the points all checks share.
        """
        assert isinstance(node, CurveNode)
        fan = _few(load_fan(self.lab.path, result_of(self.lab, node)))

        def one(line: Line) -> tuple[float, float]:
            found = evaluate(measure_named(line.measure), *self._asked(fan, line, speed))
            return found.value, 0.0 if line.at_speed else float(found.noise.std())

        return Taken.of(self.lines, one)

    @cached_property
    def _loaded(self) -> MeasuredObstacle | None:
        if self.obstacle is None:
            return None
        found = load_obstacle(self.lab.path, result_of(self.lab, self.obstacle))
        resistance = found.resistance
        return replace(found, resistance=replace(resistance, noise=resistance.noise[:FEW_TRIALS]))

    def _asked(
        self, fan: MountedFan, line: Line, speed: float | None
    ) -> tuple[MountedFan, MeasuredObstacle | None, Condition]:
        """What is put to the measure: at the checks' speed the fan laws reach a little beyond the speeds tested."""
        obstacle = self._loaded if line.through else None
        if not line.at_speed or speed is None:
            return fan, obstacle, Condition()
        low, high = fan.speeds
        if low * (1.0 - SUPPLY) <= speed <= high * (1.0 + SUPPLY):
            fan = replace(fan, speeds=(min(low, speed), max(high, speed)))
        return fan, obstacle, Condition(speed)


def _few(fan: MountedFan) -> MountedFan:
    """The same mounting with few trials: a check is taken every day, and its interval isn't asked for."""
    curve, full = fan.characteristic, fan.full_speed
    return replace(
        fan,
        characteristic=replace(curve, noise=curve.noise[:FEW_TRIALS]),
        full_speed=replace(full, noise=full.noise[:FEW_TRIALS]) if full else None,
    )


# --- level and heat ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CurveChecks:
    """Checks of one measure along a mounting's own curve against speed."""

    lab: Lab
    lines: tuple[Line, ...]
    hangs_on: str = ""

    def top_speed(self, node: RigNode) -> float | None:
        """The greatest speed measured [1/s]."""
        assert not isinstance(node, CurveNode)
        try:
            return along_of(self.lab, node).reach[1]
        except NotPossible:
            return None

    def take(self, node: RigNode, speed: float | None) -> Taken:
        """The line at the checks' speed."""
        assert not isinstance(node, CurveNode)

        def one(line: Line) -> tuple[float, float]:
            if speed is None:
                raise NotPossible(
                    line.measure, found="no speed read", expected="a tachometer, or a speed told"
                )
            along = along_of(self.lab, node)
            return along.at(speed), along.reading_u

        return Taken.of(self.lines, one)
