"""The tables of a fan as they are kept in the lab's cache by key, so that only a changed fan is worked out again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import StillroomError
from stillroom.lab.curves import load_fan
from stillroom.publish.estimate import flows, speeds
from stillroom.publish.estimate.flows import FlowTable, flow_table
from stillroom.publish.estimate.full_speeds import FullSpeed
from stillroom.publish.estimate.mounting_flows import Weighed
from stillroom.publish.estimate.several import Several
from stillroom.publish.estimate.speeds import SpeedTable
from stillroom.store import results
from stillroom.store.results import Result, save_arrays

FLOWS, SPEEDS = "estimate of airflow", "estimate of noise-limited speed"
"""Kinds of results."""

Arrays = dict[str, NDArray[Any]]

_FLOW_ARRAYS = ("factor", "exponent", "missing", "sd", "down", "up", "loadings", "each_speeds")
_FLOW_NUMBERS = (
    "flow_scale",
    "pressure_scale",
    "speed",
    "speeds",
    "reach",
    "sources",
    "counts",
    "greatest_is_full",
)
_FULL_ARRAYS = ("coefficients", "ratios", "loadings")
_SEVERAL_ARRAYS = ("edges", "jump", "sides", "low", "high", "deep", "rise")
_SPEED_ARRAYS = ("limits", "speed", "low", "high", "sd", "own", "flags", "effects")
_SPEED_WORDS = ("sources", "obstacle", "marks", "loud", "topping")


@dataclass(frozen=True)
class FlowTask:
    """Work out the table of airflow of one fan from its mountings, given by their results with weight and sample."""

    lab: Path
    key: str
    fan: str
    mountings: tuple[tuple[Result, float, str], ...]
    greatest_is_full: bool


def flow_work(task: FlowTask) -> Result:
    """Do one task; what could not be had is a result that says so."""
    inputs = {"mountings": {each.subject: each.key for each, _, _ in task.mountings}}
    method = f"{FLOWS} {flows.VERSION}"
    try:
        weighed = [
            Weighed(load_fan(task.lab, each), weight, sample) for each, weight, sample in task.mountings
        ]
        table = flow_table(weighed, greatest_is_full=task.greatest_is_full)
    except StillroomError as error:
        return Result(task.key, FLOWS, task.fan, inputs, method, False, {"failed": error.sentence()})
    arrays: Arrays = {name: getattr(table, name) for name in _FLOW_ARRAYS}
    body: dict[str, Any] = {name: getattr(table, name) for name in _FLOW_NUMBERS}
    if table.full is not None:
        arrays |= {f"full_{name}": getattr(table.full, name) for name in _FULL_ARRAYS}
        body["full_sd"] = table.full.sd
    if table.several is not None:
        arrays |= {f"several_{name}": getattr(table.several, name) for name in _SEVERAL_ARRAYS}
    save_arrays(task.lab, task.key, arrays)
    return Result(task.key, FLOWS, task.fan, inputs, method, True, body)


def load_flows(lab: Path, kept: Result) -> FlowTable:
    """A table of airflow from its result."""
    arrays, body = results.load_arrays(lab, kept.key), kept.body
    full = None
    if "full_sd" in body:
        parts = {name: np.asarray(arrays[f"full_{name}"]) for name in _FULL_ARRAYS}
        full = FullSpeed(**parts, sd=float(body["full_sd"]))
    several = None
    if "several_edges" in arrays:
        several = Several(*(np.asarray(arrays[f"several_{name}"]) for name in _SEVERAL_ARRAYS))
    values: dict[str, Any] = {name: np.asarray(arrays[name]) for name in _FLOW_ARRAYS}
    return FlowTable(**values, **_told(body, _FLOW_NUMBERS), full=full, several=several)


def keep_speeds(lab: Path, key: str, fan: str, inputs: Mapping[str, str], table: SpeedTable) -> Result:
    """Keep a table of speeds; its result is still to be put."""
    save_arrays(lab, key, {name: getattr(table, name) for name in _SPEED_ARRAYS})
    body = {name: getattr(table, name) for name in _SPEED_WORDS}
    return Result(key, SPEEDS, fan, {"sounds": dict(inputs)}, f"{SPEEDS} {speeds.VERSION}", True, body)


def load_speeds(lab: Path, kept: Result) -> SpeedTable:
    """A table of speeds from its result."""
    arrays = results.load_arrays(lab, kept.key)
    values: dict[str, Any] = {name: np.asarray(arrays[name]) for name in _SPEED_ARRAYS}
    return SpeedTable(**values, **_told(kept.body, _SPEED_WORDS))


def _told(body: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    """Numbers, words and tuples as they were before they went through JSON."""
    return {name: tuple(body[name]) if isinstance(body[name], list) else body[name] for name in names}
