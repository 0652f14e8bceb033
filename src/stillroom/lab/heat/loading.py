"""Heat results as objects, loaded by key.

The body of a result of kind "heat": "steps" [a dict of each HeatStep], "clocks" [dicts], "logs" [{run, key, file,
logger, channels, rows, gaps, repeated, first, last}], "marks", "curve", "cuts" (how they were found), "nominal" [W],
"fans", "offsets" {probe: {offset, u, from}}, "spans", "moment"; "failed" instead of the curve where there is none.
"""

from __future__ import annotations

from pathlib import Path

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.methods.heat.series import HeatSeries
from stillroom.store.results import Result


def load_heat(lab: Path, result: Result) -> HeatMounting:
    """A mounting's heat from its result."""
    raise NotImplementedError


def load_series(lab: Path, result: Result) -> HeatSeries:
    """The series behind a mounting's steps, as they are drawn."""
    raise NotImplementedError
