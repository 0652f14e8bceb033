"""What one fan does by its airflow: a number, and all its operating points where there are several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.compare.candidates import How
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import Spreads
from stillroom.core.systems import Load
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.cases import brought_over, fan_cases
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked, Field, field_of
from stillroom.lab.numbers import Number, number_of
from stillroom.lab.question import Question, greatest_is_full
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.kept_limits import load_row_speeds
from stillroom.lab.sound.limited_field import limited
from stillroom.lab.spreads import spreads_of
from stillroom.lab.system_words import Plain
from stillroom.lab.through import load_of
from stillroom.lab.valuing import Carried, mounting_values
from stillroom.measures.branches import BranchPoint, branch_points
from stillroom.store.lab import Lab
from stillroom.store.results import Result

AT_POINT = {
    "flow": "airflow",
    "pressure": "pressure-at",
    "speed": "speed-at",
    "power": "power-at",
    "efficiency": "efficiency-at",
}
"""{quantity of a point: the measure that takes it}."""


@dataclass(frozen=True)
class Point:
    """One of several operating points.

    Parameters
    ----------
    values : {name of `AT_POINT`: (value, low, high)}, SI. stable, rising : as of the measures.
    share : of trials that have it [1]. mountings : how many have it.
    """

    values: dict[str, tuple[float, float, float]]
    stable: bool
    rising: bool
    share: float
    mountings: int


@dataclass(frozen=True)
class Combining:
    """By what the mountings of one measure are combined: spreads, bridges, those used, the spread's name."""

    spreads: Spreads
    carried: Carried
    nodes: tuple[CurveNode, ...]
    spread_name: str


Members = Sequence[tuple[CurveNode, BranchPoint]]


def points_of(lab: Lab, question: Question, taken: Mapping[str, Combining]) -> tuple[Point, ...]:
    """All operating points; the mountings that have as many as any are combined one by one."""
    obstacles: dict[str, Result] = {node.key: result_of(lab, node) for node in question.through.nodes}
    load = load_of(lab.path, question.through, obstacles)
    if load is None:
        return ()
    each = [(node, _of_mounting(lab, question, node, load)) for node in taken["airflow"].nodes]
    most = max((len(found) for _, found in each), default=0)
    having = [(node, found) for node, found in each if found and len(found) == most]
    return tuple(_point([(node, found[at]) for node, found in having], taken) for at in range(most))


def _of_mounting(lab: Lab, question: Question, node: CurveNode, load: Load) -> tuple[BranchPoint, ...]:
    limit = question.at_limit.limits[node.fan] if question.at_limit else None
    full = greatest_is_full(node)
    speeds = load_row_speeds(lab.path, limit, greatest_is_full=full) if limit else None
    return branch_points(load_fan(lab.path, result_of(lab, node)), load, question.condition, speeds)


def _point(members: Members, taken: Mapping[str, Combining]) -> Point:
    values: dict[str, tuple[float, float, float]] = {}
    for name, measure in AT_POINT.items():
        if measure in taken and all(name in found.taken for _, found in members):
            values[name] = _combined(name, members, taken[measure])
    first = members[0][1]
    return Point(
        values,
        first.stable,
        any(found.rising for _, found in members),
        float(np.mean([found.share for _, found in members])),
        len(members),
    )


def _combined(name: str, members: Members, by: Combining) -> tuple[float, float, float]:
    """One quantity at one point, over the mountings that have it: value and 95 % interval."""
    found = [
        MountingResult(
            sample=f"{node.fan}/{node.sample}",
            mounting=node.subject,
            value=point.taken[name].value,
            shared_trials=point.taken[name].shared,
            noise_trials=point.taken[name].noise,
            loadings=point.taken[name].loadings,
        )
        for node, point in members
    ]
    carried = [by.carried.result(each) for each in found]
    combined = combine_mountings(carried, by.spreads, identity=by.spread_name)
    low, high = coverage_interval(combined.trials)
    return combined.value, float(low), float(high)


@dataclass(frozen=True)
class ByAirflow:
    """A number by airflow, of which field, under which eras, and how its mountings were combined; None without any."""

    number: Number
    field: Field
    eras: dict[str, Plain]
    taken: Combining | None = None


def by_airflow(
    sounds: Sounds, asked: Asked, fan: str, blocked: Mapping[str, str], progress: Progress
) -> ByAirflow:
    """A number by airflow, kept."""
    lab, book, graph, measure = sounds.lab, sounds.book, sounds.graph, asked.measure
    field = limited(sounds, field_of(book, graph, asked))
    nodes = [each for group in field.nodes.values() for each in group]
    values = mounting_values(lab, field.question, nodes, progress=progress, workers=1)
    bridging = brought_over(lab, book, graph, field, values, blocked)
    cases, failed = fan_cases(lab, book, field, values, blocked, bridging)
    lab.put_results([*bridging.made, *(each.kept for each in cases)])
    if not cases:
        why = next((each.why for each in (*failed, *field.excluded) if each.fan == fan), "no value")
        return ByAirflow(Number(measure, None, None, None, How.UNKNOWN, why=why), field, bridging.conditions)
    left = tuple((node.subject, why) for node in nodes if (why := values[node.subject].failed))
    number = replace(number_of(measure, cases[0].candidate), left_out=left)
    spreads = spreads_of(book, field, values, blocked, bridging)
    used = [
        each for each in nodes if each.subject not in bridging.unbridged and not values[each.subject].failed
    ]
    taken = Combining(spreads, bridging.carried, tuple(used), field.question.spread_name)
    return ByAirflow(number, field, bridging.conditions, taken)
