"""The mountings of a lab on whatever rig: what was measured of a fan in a chamber, a quiet room or on a heat rig."""

from __future__ import annotations

from typing import TypeAlias

from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.nodes import SoundNode

RigNode: TypeAlias = CurveNode | SoundNode | HeatNode
"""A mounting on a rig, with its rig, day, fan and sample."""


def rig_nodes(graph: Graph, fan: str = "") -> list[RigNode]:
    """All mountings of fans, of one fan where it is named: airflow first, then sound, then heat."""
    return [*graph.mountings(fan), *graph.sounding(fan), *graph.heating(fan)]


def before_it(node: RigNode) -> str:
    """What stood before the fan, for a comparison of like with like: an obstacle, or the loop's radiator."""
    return node.radiator if isinstance(node, HeatNode) else node.obstacle


def is_bare(node: RigNode) -> bool:
    """Whether nothing stood before the fan but what belongs to the rig."""
    return isinstance(node, HeatNode) or not node.obstacle
