"""How the files of a watched run come into the lab: what the watch knows of them, as `add` is told it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from stillroom.lab.heat.nodes import HeatNode
from stillroom.live.placing import NOBODY

UNTOLD = "NAME"
"""Stands for a fan that nothing tells."""


def calls_of(node: HeatNode, paths: Mapping[str, Path]) -> tuple[tuple[str, ...], ...]:
    """The words after `stillroom add`: one call for a run, or one for each logger where one wrote several files.

    Parameters
    ----------
    node : the mounting, of which the last run counts. paths : {as the node names a file: where it lies now}.
    """
    names = set(node.runs[-1])
    by_logger: dict[str, list[str]] = {}
    for each in node.logs:
        path = paths.get(each.run.placed.taken.sha256)
        if each.name in names and path is not None:
            by_logger.setdefault(each.run.logger, []).append(str(path))
    told = [f"rig={node.rig}", f"fan={UNTOLD if node.fan == NOBODY else node.fan}"]
    told += [f"sample={node.sample}"] if node.sample and node.fan != NOBODY else []
    if any(len(files) > 1 for files in by_logger.values()):
        return tuple(_call(files, [*told, f"logger={logger}"]) for logger, files in by_logger.items())
    return (_call([file for files in by_logger.values() for file in files], told),) if by_logger else ()


def _call(files: list[str], told: list[str]) -> tuple[str, ...]:
    return (*sorted(files), *(word for each in told for word in ("--as", each)))
