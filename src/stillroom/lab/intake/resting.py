"""The mountings that rest on runs which came in, and those to compare them with."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TypeVar

from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.sound.nodes import SoundNode

Node = TypeVar("Node", SoundNode, HeatNode)


def resting_on(nodes: Iterable[Node], runs: Collection[str]) -> dict[str, Node]:
    """{run: the first of some mountings that rests on it}, of some runs, in the order of the mountings."""
    holding: dict[str, Node] = {}
    for node in nodes:
        for each in node.members:
            if each.name in runs:
                holding.setdefault(each.name, node)
    return holding


def with_last(holding: Mapping[str, Node], last_before: Callable[[Node], Node | None]) -> list[Node]:
    """Mountings, each once, and of each the one that is the last before it, where there is one."""
    wanted = {each.key: each for each in holding.values()}
    for node in list(wanted.values()):
        before = last_before(node)
        if before is not None:
            wanted.setdefault(before.key, before)
    return list(wanted.values())
