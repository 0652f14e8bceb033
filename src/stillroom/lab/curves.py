"""The reduced curves as objects, loaded from results by key."""

from __future__ import annotations

from pathlib import Path

from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.errors import NotPossible
from stillroom.lab.recipes import AnyNode
from stillroom.methods.airflow.kept import fan_of, obstacle_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


def result_of(lab: Lab, node: AnyNode) -> Result:
    """The result of a node.

    Raises
    ------
    NotPossible : it isn't there, or the method could not; with its words.
    """
    result = results.get(lab.database, node.key)
    if result is None:
        raise NotPossible(
            f"{node.kind} {node.subject}", found="nothing yet", expected="`stillroom reduce` first"
        )
    if result.failed:
        raise NotPossible(f"{node.kind} {node.subject}", found=result.failed)
    return result


def load_fan(lab: Path, result: Result) -> MountedFan:
    """A mounted fan from its result."""
    return fan_of(result.body, results.load_arrays(lab, result.key))


def load_obstacle(lab: Path, result: Result) -> MeasuredObstacle:
    """An obstacle's resistance from its result."""
    return obstacle_of(result.body, results.load_arrays(lab, result.key))
