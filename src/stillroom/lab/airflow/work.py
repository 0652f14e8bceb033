"""The work of airflow nodes: one task in, one result out. Runs here, in a process, or wherever an executor puts it.

A worker reads originals and writes the cache; it never touches the database. What could not be computed is a
result that says so, never a number.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode, RunNode
from stillroom.lab.outcomes import Parts, outcome
from stillroom.lab.readings import readings_of
from stillroom.methods.airflow.kept import fan_parts, obstacle_parts
from stillroom.methods.airflow.mounting import SweepOfMounting, dimensionless, reduce_mounting
from stillroom.methods.airflow.obstacle import reduce_obstacle
from stillroom.methods.airflow.points import Points, Sweep, reduce_sweep
from stillroom.readers.reading.recording import Recording
from stillroom.store.results import Result


@dataclass(frozen=True)
class CurveTask:
    """Fit one curve node of the lab at a path."""

    lab: Path
    node: CurveNode


def work(task: CurveTask) -> Result:
    """Do one task. Its arrays are in the cache when this returns.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    make = _mounting if task.node.kind == "mounting" else _obstacle
    return outcome(task.lab, task.node, lambda: make(task))


def _reduced(recording: Recording, run: RunNode) -> Points:
    supply = run.placed.setting if run.placed.setting_kind == "volts" else None
    return reduce_sweep(Sweep(run.placed.run, recording.columns, tuple(recording.nozzles), supply), run.bench)


def _mounting(task: CurveTask) -> Parts:
    node = task.node
    recordings = [readings_of(task.lab, each.placed.taken) for each in node.runs]
    reduced = [_reduced(*each) for each in zip(recordings, node.runs, strict=True)]
    sweeps = [
        SweepOfMounting(points, run.placed.setting, run.placed.setting_kind, run.placed.direction)
        for run, points in zip(node.runs, reduced, strict=True)
    ]
    runs = [_run_facts(*each) for each in zip(node.runs, reduced, recordings, strict=True)]
    try:
        fan = reduce_mounting(
            sweeps, diameter=node.diameter, identity=node.subject, trials=node.trials, full_setting=node.top
        )
    except StillroomError as error:
        return {"failed": error.sentence(), "runs": runs}, {}  # the readings still say what may be wrong
    body, arrays = fan_parts(fan)
    body["runs"] = runs
    parts = [dimensionless(each.points, node.diameter) for each in sweeps]
    arrays["points_phi"] = np.concatenate([each.flow[0] for each in parts])
    arrays["points_psi"] = np.concatenate([each.pressure[0] for each in parts])
    arrays["points_reynolds"] = np.concatenate([each.reynolds[0] for each in parts])
    return body, arrays


def _obstacle(task: CurveTask) -> Parts:
    node = task.node
    recordings = [readings_of(task.lab, each.placed.taken) for each in node.runs]
    reduced = [_reduced(*each) for each in zip(recordings, node.runs, strict=True)]
    obstacle = reduce_obstacle(reduced, identity=node.subject, trials=node.trials)
    body, arrays = obstacle_parts(obstacle)
    body["runs"] = [_run_facts(*each) for each in zip(node.runs, reduced, recordings, strict=True)]
    arrays["points_flow"] = np.concatenate([points.rows["flow"][0] for points in reduced])
    arrays["points_pressure"] = np.concatenate([points.rows["pressure"][0] for points in reduced])
    return body, arrays


READ = ("voltage", "optical_speed", "nozzle_pressure", "pwm_frequency", "pressure_zero", "pressure_zero_after",
        "speed_variation", "pressure_variation", "flow_variation", "wet_bulb_temperature")  # fmt: skip
"""Columns of the readings that findings look at as they were read."""


def _run_facts(run: RunNode, points: Points, recording: Recording) -> dict[str, Any]:
    """What findings and charts need of one run, in plain numbers."""
    rows = points.rows
    speed = rows["speed"][0] if "speed" in rows else None
    best = np.nan
    if "power" in rows:
        power = rows["power"][0]
        used = power > 0.0
        if used.any():
            best = float(np.max(rows["flow"][0][used] * rows["pressure"][0][used] / power[used]))
    return {
        "run": run.placed.run,
        "key": run.key,
        "file": run.placed.taken.words,
        "setting": run.placed.setting_word,
        "date": run.placed.date,
        "points": int(rows["flow"].shape[1]),
        "lines": list(recording.lines),
        "flow": _plain(rows["flow"][0]),
        "pressure": _plain(rows["pressure"][0]),
        "speed": None if speed is None else _plain(speed),
        "static_efficiency": None if np.isnan(best) else best,
        "marks": list(points.marks),
        "nozzles": ["+".join(each) for each in points.nozzles],
        "low_reynolds": int(points.low_reynolds.sum()),
        "density": float(rows["density"][0].mean()),
        "own_flow": _plain(np.sqrt((points.own_effects("flow") ** 2).sum(axis=0))),
        "own_pressure": _plain(np.sqrt((points.own_effects("pressure") ** 2).sum(axis=0))),
        "shared_flow": _relative_shared(points, "flow"),
        "shared_pressure": _relative_shared(points, "pressure"),
        "power": _plain(rows["power"][0]) if "power" in rows else None,
        "read": {name: _plain(recording.columns[name]) for name in _read(recording)},
    }


def _read(recording: Recording) -> list[str]:
    """The columns that are kept as they were read; the dry bulb only to be held against a wet one."""
    found = [name for name in READ if name in recording.columns]
    return (
        [*found, "temperature"]
        if {"wet_bulb_temperature", "temperature"} <= recording.columns.keys()
        else found
    )


def _plain(values: Array) -> list[float]:
    return [float(each) for each in values]


def _relative_shared(points: Points, quantity: str) -> float:
    """Standard uncertainty by what a whole run shares, relative, where the quantity is large [1]."""
    central = np.abs(points.rows[quantity][0])
    large = central >= 0.5 * central.max()
    shared = np.sqrt((points.shared(quantity) ** 2).sum(axis=0))
    return float(np.mean(shared[large] / np.maximum(central[large], 1e-300)))
