"""Heat results as objects, loaded by key.

The body of a result of kind "heat": "steps" [a dict of each HeatStep, None for what is no number], "clocks" [{logger,
files, offset, u, how, edges, found, why}], "logs" [{run, key, file, logger, channels, rows, gaps, repeated, first,
last, steps [(number, first, last line) of each step that is a result]}], "marks", "curve" (None where no step with a
speed is a result), "cuts" [{first, last, kind, setting, noise, by, told}], "nominal" [W], "fans", "sources" {identity:
u [K]}, "offsets" {probe: {offset, u, from}}, "series" {moment, kind, spans, left_out}. A mounting that could not be had
says why under "failed", and has "logs" and "cuts" still.
"""

from __future__ import annotations

from pathlib import Path

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.methods.heat.kept import heat_of, series_from
from stillroom.methods.heat.series import HeatSeries
from stillroom.store import results
from stillroom.store.results import Result


def load_heat(lab: Path, result: Result) -> HeatMounting:
    """A mounting's heat from its result."""
    arrays = results.load_arrays(lab, result.key) if result.body["curve"] is not None else {}
    return heat_of(result.body, arrays)


def load_series(lab: Path, result: Result) -> HeatSeries:
    """The series behind a mounting's steps, as they are drawn."""
    return series_from(result.body["series"], results.load_arrays(lab, result.key))
