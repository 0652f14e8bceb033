"""What every worker hands back: a result with its arrays kept, or one that says in words why there is no number."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol, TypeAlias

from stillroom.errors import LabDamaged, StillroomError
from stillroom.store.results import Result, save_arrays

Parts: TypeAlias = tuple[dict[str, Any], Mapping[str, Any]]
"""The body of a result and its arrays, none where the method could not."""


class Worked(Protocol):
    """What is worked out: a node of the graph with its key, and what its result tells of it."""

    @property
    def key(self) -> str:
        """Of the result."""

    @property
    def kind(self) -> str:
        """Of the result."""

    @property
    def subject(self) -> str:
        """What the result is about."""

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role."""

    @property
    def method(self) -> str:
        """The method with its version."""


def outcome(lab: Path, node: Worked, make: Callable[[], Parts], **without: Any) -> Result:
    """The result of a node, with its arrays in the cache when this returns.

    Parameters
    ----------
    lab : its folder. make : works it out. without : what else stands in the body of a result that could not be had.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    arrays: Mapping[str, Any]
    try:
        body, arrays = make()
    except LabDamaged:
        raise
    except StillroomError as error:
        body, arrays = {"failed": error.sentence(), **without}, {}
    if arrays:
        save_arrays(lab, node.key, arrays)
    return Result(node.key, node.kind, node.subject, node.inputs, node.method, bool(arrays), body)
