"""Values of mountings and of fans under a condition: each worked out once, kept by key."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from stillroom.compare.candidates import Bound, Candidate, Ends, How
from stillroom.core.arrays import Array
from stillroom.core.bridging import Bridge
from stillroom.core.combine import FanValue, MountingResult, combine_mountings
from stillroom.core.row_speeds import HEARD_UP_TO
from stillroom.core.spread import Spreads
from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.curves import load_fan
from stillroom.lab.executor import Progress, are_started, each_done, silent
from stillroom.lab.kept_value import Uncertainty, kept_value
from stillroom.lab.question import Question, greatest_is_full
from stillroom.lab.sound.kept_limits import load_row_speeds
from stillroom.lab.sound.level_words import TOPS_OUT
from stillroom.lab.through import Through, load_of
from stillroom.measures import Condition, Measure, MeasuredValue, Origin, evaluate, measure_named
from stillroom.measures.needed import needed_speed
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result, save_arrays

ARRAYS = ("shared", "noise", "low_shift", "high_shift")


@dataclass(frozen=True)
class ValueTask:
    """Take one measure from one mounting, through obstacles whose results are given by key; at a kept noise limit.

    `full` tells whether the greatest setting of its sweeps is the fan's full setting.
    """

    lab: Path
    measure: str
    condition: Condition
    key: str
    mounting: Result
    through: Through
    obstacles: dict[str, Result]
    limit: Result | None = None
    full: bool = True


def value_work(task: ValueTask) -> Result:
    """Do one task; what could not be had is a result that says so."""
    measure = measure_named(task.measure)
    inputs: dict[str, Any] = {"mounting": task.mounting.key, "obstacle": list(task.obstacles)}
    if task.limit is not None:
        inputs["at limit"] = task.limit.key
    method = f"{measure.name} {measure.version}"
    kept = Result(task.key, "mounting value", task.mounting.subject, inputs, method, False, {})
    try:
        found = _taken(task, measure)
    except StillroomError as error:
        return replace(kept, body={"failed": error.sentence()})
    save_arrays(task.lab, task.key, {name: getattr(found, name) for name in ARRAYS})
    body = {
        "value": found.value,
        "low": found.low,
        "high": found.high,
        "loadings": found.loadings,
        "unique": found.unique,
        "marks": [*found.marks, *task.through.marks],
    }
    return replace(kept, arrays=True, body=body)


def _taken(task: ValueTask, measure: Measure) -> MeasuredValue:
    load = load_of(task.lab, task.through, task.obstacles)
    fan = load_fan(task.lab, task.mounting)
    if measure.origin is Origin.NEEDED:
        return needed_speed(fan, load, task.condition, greatest_is_full=task.full)
    speeds = load_row_speeds(task.lab, task.limit, greatest_is_full=task.full) if task.limit else None
    return evaluate(measure, fan, load, task.condition, speeds)


def mounting_values(
    lab: Lab,
    question: Question,
    nodes: Sequence[CurveNode],
    *,
    workers: int = 0,
    progress: Progress = silent,
) -> dict[str, Result]:
    """The values of all mountings, {mounting: result}; what is missing is worked out and kept."""
    keys = {node.subject: question.key(node) for node in nodes}
    there = results.known(lab.database, lab.path, keys.values())
    obstacles = {node.key: _there(lab, node) for node in question.through.nodes}
    without = next((each.failed for each in obstacles.values() if each.failed), "")
    found: dict[str, Result] = {}
    wanted: list[ValueTask] = []
    for node in nodes:
        key = keys[node.subject]
        if key in there:
            continue
        mounting = _there(lab, node)
        name = question.measure.name
        if why := mounting.failed or without:
            found[key] = Result(key, "mounting value", node.subject, {}, name, False, {"failed": why})
        else:
            limit = question.at_limit.limits[node.fan] if question.at_limit else None
            wanted.append(
                ValueTask(lab.path, name, question.condition, key, mounting, question.through, obstacles, limit,
                          greatest_is_full(node))
            )  # fmt: skip
    few = (
        1 if len(wanted) <= 40 and not are_started() else workers
    )  # a value takes a tenth of a worker's start
    for done, result in enumerate(each_done(value_work, wanted, workers=few), start=1):
        lab.put_results([result])
        found[result.key] = result
        progress("values", done, len(wanted))
    known = {key: results.get(lab.database, key) for key in keys.values() if key not in found}
    merged = found | {key: each for key, each in known.items() if each is not None}
    return {name: merged[key] for name, key in keys.items()}


def _there(lab: Lab, node: CurveNode) -> Result:
    found = results.get(lab.database, node.key)
    missing = Result(node.key, node.kind, node.subject, {}, "", False, {"failed": "not reduced yet"})
    return missing if found is None else found


@dataclass(frozen=True)
class FanCase:
    """A fan with its value under a question, ready to be ranked, and the result that is kept for tracing."""

    candidate: Candidate
    value: FanValue
    kept: Result


@dataclass(frozen=True)
class Carried:
    """The bridges by which mountings of earlier eras are brought over, and their keys, by mounting."""

    over: Mapping[str, Bridge] = field(default_factory=dict)
    keys: Mapping[str, str] = field(default_factory=dict)

    def ratio(self, mounting: str) -> float:
        """By what a mounting's value is multiplied [1]."""
        return self.over[mounting].ratio if mounting in self.over else 1.0

    def result(self, result: MountingResult) -> MountingResult:
        """A mounting's value as the latest era would have read it."""
        bridge = self.over.get(result.mounting)
        return bridge.carry(result) if bridge else result


def mounting_result(node: CurveNode, value: Result, arrays: Mapping[str, Array]) -> MountingResult:
    """A mounting's value with its trials, as it is bridged and combined."""
    return MountingResult(
        sample=f"{node.fan}/{node.sample}",
        mounting=node.subject,
        value=float(value.body["value"]),
        shared_trials=arrays["shared"],
        noise_trials=arrays["noise"],
        loadings=value.body["loadings"],
    )


def fan_case(
    lab: Lab,
    question: Question,
    fan: str,
    nodes: Sequence[CurveNode],
    values: Mapping[str, Result],
    spreads: Spreads,
    extra_marks: Iterable[str] = (),
    carried: Carried = Carried(),
) -> FanCase:
    """Combine the values of a fan's mountings (those that have one) into the fan's own."""
    used = [node for node in nodes if not values[node.subject].failed]
    arrays = {node.subject: results.load_arrays(lab.path, values[node.subject].key) for node in used}
    combined = combine_mountings(
        [carried.result(mounting_result(node, values[node.subject], arrays[node.subject])) for node in used],
        spreads,
        identity=question.spread_name,
    )
    marks = dict.fromkeys(mark for node in used for mark in values[node.subject].body["marks"])
    limit = question.at_limit.limits[fan] if question.at_limit else None
    marks |= dict.fromkeys([*extra_marks, *(limit.body["marks"] if limit else ())])
    is_heard_short = any(each.startswith(HEARD_UP_TO) for each in marks)
    if is_heard_short:  # by the airflow its full speed lies above the speeds heard: it need not top out there
        marks = {each: None for each in marks if not each.startswith(TOPS_OUT)}
    ends = _ends(combined, used, values, arrays, carried) if "not unique" in marks else None
    key = key_of(
        "fan value",
        question.spread_name,
        spreads.mounting.sd,
        spreads.sample.sd,
        [values[node.subject].key for node in used],
        *([sorted(bridged.items())] if (bridged := _bridged(used, carried)) else []),
    )
    candidate = Candidate(
        fan=fan,
        value=combined.value,
        trials=combined.trials,
        parts=combined.parts,
        how=_how(question, marks),
        samples=combined.samples,
        mountings=combined.mountings,
        key=key,
        marks=tuple(marks),
        bound=Bound.RANGE if ends else _bound(question, limit, is_heard_short=is_heard_short),
        ends=ends,
    )
    kept = _kept(question, fan, used, values, candidate, combined, spreads, bridged)
    return FanCase(candidate, combined, kept)


def _bound(question: Question, limit: Result | None, *, is_heard_short: bool) -> Bound:
    """At least, where a limit lies in the floor or above the speeds heard: the fan may turn faster, and all but its
    efficiency grows so.
    """
    grows = question.measure.quantity != "static_efficiency"
    at_least = limit is not None and (limit.body["at_least"] or is_heard_short)
    return Bound.AT_LEAST if at_least and grows else Bound.NONE


def _bridged(used: Sequence[CurveNode], carried: Carried) -> dict[str, str]:
    """{mounting: key of its bridge} of the mountings used that a bridge carries."""
    return {node.subject: carried.keys[node.subject] for node in used if node.subject in carried.keys}


def _how(question: Question, marks: Iterable[str]) -> How:
    """Measured, or by which way otherwise: the word that stands beside the number."""
    if "extrapolated" in marks or question.is_modelled:
        return How.MODELLED
    if any(each.startswith("modelled:") for each in marks):
        return How.MODELLED
    between = any(each.startswith("interpolated") for each in marks)
    crossing = bool(question.through.stacks) or question.measure.crosses
    asked = question.condition
    at_speed = asked.speed is not None or asked.is_limited or asked.for_flow is not None
    return How.INTERPOLATED if between or crossing or at_speed else How.MEASURED


def _ends(
    combined: FanValue,
    used: Sequence[CurveNode],
    values: Mapping[str, Result],
    arrays: Mapping[str, Mapping[str, Array]],
    carried: Carried,
) -> Ends:
    """The ends of a value that is not unique: mean over samples of means over mountings, as the value."""
    per_sample: dict[str, list[str]] = {}
    for node in used:
        per_sample.setdefault(node.sample, []).append(node.subject)
    weight = {
        name: carried.ratio(name) / len(per_sample) / len(group)
        for group in per_sample.values()
        for name in group
    }
    bodies = {name: values[name].body for name in weight}
    low = sum(weight[name] * (float(body["low"]) - float(body["value"])) for name, body in bodies.items())
    high = sum(weight[name] * (float(body["high"]) - float(body["value"])) for name, body in bodies.items())
    low_trials = np.sum([weight[name] * arrays[name]["low_shift"] for name in weight], axis=0)
    high_trials = np.sum([weight[name] * arrays[name]["high_shift"] for name in weight], axis=0)
    return Ends(
        combined.value + low,
        combined.value + high,
        combined.trials + low_trials,
        combined.trials + high_trials,
    )


def _kept(
    question: Question,
    fan: str,
    used: Sequence[CurveNode],
    values: Mapping[str, Result],
    candidate: Candidate,
    combined: FanValue,
    spreads: Spreads,
    bridged: Mapping[str, str],
) -> Result:
    inputs: dict[str, Mapping[str, str] | str] = {
        "values": {node.subject: values[node.subject].key for node in used},
        "curves": {node.subject: node.key for node in used},
        "obstacle": {node.subject: node.key for node in question.through.nodes},
        "bridges": bridged,
    }
    if question.at_limit is not None:
        inputs["limit"] = question.at_limit.limits[fan].key
    each = {node.subject: float(values[node.subject].body["value"]) for node in used}
    return kept_value(candidate, question, Uncertainty.of(combined, spreads), inputs=inputs, each=each)
