"""Control results as objects, loaded by key."""

from __future__ import annotations

from pathlib import Path

from stillroom.core.control.control_mounting import ControlMounting
from stillroom.store.results import Result


def load_control(lab: Path, result: Result) -> ControlMounting:
    """A mounting's control behaviour from its result."""
    raise NotImplementedError
