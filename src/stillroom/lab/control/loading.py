"""Control results as objects, loaded by key."""

from __future__ import annotations

from pathlib import Path

from stillroom.core.control.control_mounting import ControlMounting
from stillroom.errors import NotPossible
from stillroom.methods.control.kept import control_of
from stillroom.store.results import Result


def load_control(lab: Path, result: Result) -> ControlMounting:  # noqa: ARG001
    """A mounting's control behaviour from its result.

    Parameters
    ----------
    lab : the lab's folder, as for every result; this kind keeps no arrays. result : of kind "control".

    Raises
    ------
    NotPossible : it could not be had.
    """
    if result.failed:
        raise NotPossible(f"control of {result.subject}", found=result.failed)
    return control_of(result.body["control"])
