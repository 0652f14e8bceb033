"""The samples that were measured in several eras of a rig in the same way: what a bridge can rest on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from stillroom.lab.eras.eras import Eras
from stillroom.lab.eras.rig_nodes import RigNode, before_it

Node = TypeVar("Node", bound=RigNode)


def linking(nodes: Iterable[Node], eras: Eras) -> list[Node]:
    """The mountings of samples that were measured in several eras of a rig, in the same way.

    Parameters
    ----------
    nodes : of one rig.
    """
    of_sample: dict[tuple[str, str, str], list[Node]] = {}
    for each in nodes:
        of_sample.setdefault((each.fan, each.sample, before_it(each)), []).append(each)
    several = [own for own in of_sample.values() if len({eras.of(each).number for each in own}) > 1]
    return [each for own in several for each in own]
