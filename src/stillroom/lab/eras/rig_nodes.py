"""The mountings of a lab on whatever rig: what was measured of a fan in a chamber, a quiet room or on a heat rig."""

from __future__ import annotations

from typing import TypeAlias

from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Placed
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.nodes import SoundNode

RigNode: TypeAlias = CurveNode | SoundNode | HeatNode
"""A mounting on a rig, with its rig, day, fan and sample."""


def rig_nodes(graph: Graph, fan: str = "") -> list[RigNode]:
    """All mountings of fans, of one fan where it is named: airflow first, then sound, then heat."""
    return [*graph.mountings(fan), *graph.sounding(fan), *graph.heating(fan)]


def moment_of(node: RigNode) -> str:
    """When a mounting was measured: the time of its first run where that was recorded on its day, else the day."""
    measured = [(each.taken.measured or "")[:16] for each in _runs(node)]
    timed = [each for each in measured if len(each) > len("YYYY-MM-DD") and each.startswith(node.date[:10])]
    return min(timed, default=node.date)


def _runs(node: RigNode) -> list[Placed]:
    if isinstance(node, HeatNode):
        return [each.run.placed for each in node.logs if each.run.names_fan]
    if isinstance(node, SoundNode):
        return [each.run.placed for each in node.recordings]
    return [each.placed for each in node.runs]


def before_it(node: RigNode) -> str:
    """What stood before the fan, for a comparison of like with like: an obstacle, or the loop's radiator."""
    return node.radiator if isinstance(node, HeatNode) else node.obstacle


def is_bare(node: RigNode) -> bool:
    """Whether nothing stood before the fan but what belongs to the rig."""
    return isinstance(node, HeatNode) or not node.obstacle
