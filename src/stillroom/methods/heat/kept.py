"""How a mounting's heat is kept: plain words and numbers, and arrays. A number that isn't one is kept as None."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.heat.heat_curve import HeatCurve, HeatPoint
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.methods.heat.series import HeatSeries, StepSpan

Arrays = dict[str, NDArray[Any]]
_CURVE_ARRAYS = ("speeds", "central", "effects", "noise")
_SERIES_ARRAYS = ("times", "delta", "hot", "air", "power", "speed", "setting")
_NUMBERS = ("hot", "air", "delta", "delta_nominal", "u_own", "power", "power_sd", "conductance")


def heat_parts(heat: HeatMounting) -> tuple[dict[str, Any], Arrays]:
    """A mounting's heat as a JSON object and arrays."""
    arrays: Arrays = {}
    body: dict[str, Any] = {
        "steps": [step_facts(each) for each in heat.steps],
        "clocks": [dict(each) for each in heat.clocks],
        "marks": list(heat.marks),
        "nominal": heat.nominal,
        "fans": heat.fans,
        "sources": dict(heat.sources or {}),
        "curve": None if heat.curve is None else _curve_parts(heat.curve, arrays),
    }
    return body, arrays


def heat_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> HeatMounting:
    """A mounting's heat from its parts."""
    return HeatMounting(
        steps=tuple(step_of(each) for each in body["steps"]),
        curve=None if body["curve"] is None else _curve(body["curve"], arrays),
        nominal=body["nominal"],
        fans=body["fans"],
        clocks=tuple(body["clocks"]),
        sources=body["sources"],
        marks=tuple(body["marks"]),
    )


def step_facts(step: HeatStep) -> dict[str, Any]:
    """A step as a JSON object."""
    values = {each.name: getattr(step, each.name) for each in fields(HeatStep)}
    values |= {"how": step.how.value, "marks": list(step.marks)}
    return {name: _plain(value) for name, value in values.items()}


def step_of(told: Mapping[str, Any]) -> HeatStep:
    """A step from its JSON object."""
    values = dict(told) | {"how": StepHow(told["how"]), "marks": tuple(told["marks"])}
    values |= {name: math.nan for name in _NUMBERS if told[name] is None}
    return HeatStep(**values)


def _plain(value: Any) -> Any:
    """A value that JSON has: NaN and the infinite are None."""
    if isinstance(value, Mapping):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return bool(value) if isinstance(value, np.bool_) else value


def _curve_parts(curve: HeatCurve, arrays: Arrays) -> dict[str, Any]:
    values = {each.name: getattr(curve, each.name) for each in fields(HeatCurve)}
    for name in _CURVE_ARRAYS:
        arrays[f"curve_{name}"] = values.pop(name)
    return values | {"points": [asdict(each) for each in curve.points]}


def _curve(told: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> HeatCurve:
    values = dict(told) | {name: arrays[f"curve_{name}"] for name in _CURVE_ARRAYS}
    values["points"] = tuple(HeatPoint(**each) for each in told["points"])
    values["sources"], values["reach"] = tuple(told["sources"]), tuple(told["reach"])
    return HeatCurve(**values)


def series_parts(series: HeatSeries) -> tuple[dict[str, Any], Arrays]:
    """The series of a mounting: its words for the body, and its arrays in single precision."""
    arrays: Arrays = {f"series_{name}": getattr(series, name).astype(np.float32) for name in _SERIES_ARRAYS}
    arrays["series_times"] = series.times
    words: dict[str, Any] = {"moment": series.moment, "kind": series.kind}
    words["spans"] = [asdict(each) for each in series.spans]
    words["left_out"] = [list(each) for each in series.left_out]
    return words, arrays


def series_from(words: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> HeatSeries:
    """The series of a mounting from its parts."""
    values = {name: arrays[f"series_{name}"].astype(np.float64) for name in _SERIES_ARRAYS}
    spans = tuple(StepSpan(**each) for each in words["spans"])
    left_out = tuple((first, last) for first, last in words["left_out"])
    return HeatSeries(moment=words["moment"], kind=words["kind"], spans=spans, left_out=left_out, **values)
