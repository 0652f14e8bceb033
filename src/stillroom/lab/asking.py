"""What one fan does under one condition: every number with its interval, its way and its key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.compare.candidates import Bound, Candidate, How
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import Spreads
from stillroom.core.systems import Load
from stillroom.errors import UnknownThing
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.answered import Answered, Case
from stillroom.lab.book import Book
from stillroom.lab.cases import brought_over, conditions_of, fan_cases
from stillroom.lab.control.asking import ControlOfFan, control_of
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, Field, field_of
from stillroom.lab.heat.asking import HeatOnRig, heat_of
from stillroom.lab.heat.ranking import heat_answer, is_by_heat
from stillroom.lab.question import Question, greatest_is_full
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.kept_limits import load_row_speeds
from stillroom.lab.sound.limited_field import limited
from stillroom.lab.sound.ranking import sound_cases
from stillroom.lab.sound.set_list import AtNoise, at_noise
from stillroom.lab.spreads import spreads_of
from stillroom.lab.system_words import Plain
from stillroom.lab.through import load_of, through_of
from stillroom.lab.valuing import Carried, mounting_values
from stillroom.measures import Condition, Measure, Origin, as_asked, measure_named
from stillroom.measures.branches import BranchPoint, branch_points
from stillroom.measures.sound import LEVEL, LIMITED_SPEED, LOUDNESS, SHARPNESS
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

THROUGH = (*AT_POINT.values(), "pressure-to-spare")
FREE = ("free-airflow", "free-speed", "free-power", "maximum-pressure", "air-power", "static-efficiency",
        "load-line")  # fmt: skip


@dataclass(frozen=True)
class Number:
    """One number of an answer, in SI.

    Parameters
    ----------
    measure : what it is. value, low, high : with its 95 % interval; None where it is unknown.
    how : measured, interpolated, modelled, or unknown. is_range : whether one value would be a lie.
    marks : what must be said beside it. key : for `trace`. samples, mountings : what it rests on.
    why : why it is unknown, or "". left_out : mountings that could not be used for it, each with why.
    bound : whether the value is a bound.
    """

    measure: Measure
    value: float | None
    low: float | None
    high: float | None
    how: How
    is_range: bool = False
    marks: tuple[str, ...] = ()
    key: str = ""
    samples: int = 0
    mountings: int = 0
    why: str = ""
    left_out: tuple[tuple[str, str], ...] = ()
    bound: Bound = Bound.NONE


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
class Answer:
    """What was asked of one fan.

    Parameters
    ----------
    fan, conditions : of whom, under what. numbers : at the operating point, or of the whole curve.
    points : every operating point from the greatest flow down, where there is more than one.
    noise : the fan at the noise limit, where one is asked for. heat : the fan on the heat rigs on which it was run.
    control : how it answers its control, where that was tested.
    """

    fan: str
    conditions: Mapping[str, Plain]
    numbers: tuple[Number, ...]
    points: tuple[Point, ...]
    noise: AtNoise | None = None
    heat: tuple[HeatOnRig, ...] = ()
    control: ControlOfFan | None = None


def answer(
    lab: Lab,
    book: Book,
    graph: Graph,
    fan: str,
    condition: Condition,
    *,
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
) -> Answer:
    """Answer for one fan, its mountings combined as in a ranking.

    Spreads are those that rankings have agreed; where none is, those of this fan with what is assumed.

    Raises
    ------
    UnknownThing : no such fan or obstacle. NotPossible : a system that can't be made of what was measured.
    """
    record = book.fans.get(fan)
    sounds = Sounds(lab, book, graph)
    names = sorted(graph.fans | set(book.fans))
    if fan not in names:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(names) or "a fan of the lab")
    size = record.size if record else None
    heat = heat_of(sounds, fan, condition, blocked or {})
    control = control_of(lab, book, graph, fan, condition, blocked or {})
    condition = replace(condition, rig=condition.rig if condition.for_heat is not None else "")
    numbers: list[Number] = []
    taken: dict[str, _Taken] = {}
    fields: list[Field] = []
    eras: dict[str, Plain] = {}
    heard: dict[str, Plain] = {}
    for measure in _measures(graph, fan, condition):
        name = measure.name
        asked = Asked(as_asked(measure, condition), condition, size, (fan,))
        if not _is_by_airflow(asked):
            number, conditions = _of_another_room(sounds, asked, fan, blocked or {}, progress)
            numbers.append(number)
            heard |= conditions
            continue
        found = _by_airflow(sounds, asked, fan, blocked or {}, progress)
        numbers.append(found.number)
        fields.append(found.field)
        eras |= found.eras
        if found.taken is not None:
            taken[name] = found.taken
    noise = None
    if condition.is_limited:
        noise = at_noise(sounds, fan, through_of(book, graph, condition.obstacle), condition)
    several = any("not unique" in each.marks for each in numbers if each.measure.name == "airflow")
    points = _points(lab, fields[0].question, taken) if several else ()
    told = conditions_of(book, Asked(measure_named(THROUGH[0]), condition, size), fields[0]) if fields else {}
    return Answer(fan, heard | told | eras, tuple(numbers), points, noise, heat, control)


@dataclass(frozen=True)
class _ByAirflow:
    """A number by airflow, of which field, under which eras, and how its mountings were combined; None without any."""

    number: Number
    field: Field
    eras: dict[str, Plain]
    taken: _Taken | None = None


def _by_airflow(
    sounds: Sounds, asked: Asked, fan: str, blocked: Mapping[str, str], progress: Progress
) -> _ByAirflow:
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
        return _ByAirflow(Number(measure, None, None, None, How.UNKNOWN, why=why), field, bridging.conditions)
    left = tuple((node.subject, why) for node in nodes if (why := values[node.subject].failed))
    number = replace(number_of(measure, cases[0].candidate), left_out=left)
    spreads = spreads_of(book, field, values, blocked, bridging)
    used = [
        each for each in nodes if each.subject not in bridging.unbridged and not values[each.subject].failed
    ]
    taken = _Taken(spreads, bridging.carried, tuple(used), field.question.spread_name)
    return _ByAirflow(number, field, bridging.conditions, taken)


def _measures(graph: Graph, fan: str, condition: Condition) -> list[Measure]:
    """What is answered: at the operating point, or of the whole curve, and of sound where there is any; a given speed
    isn't answered.
    """
    system = condition.system
    of_curve: tuple[str, ...] = THROUGH if condition.obstacle else FREE
    needed = condition.for_flow is not None or condition.for_heat is not None
    if needed:
        of_curve = ("needed-speed",)
    of_sound: tuple[str, ...] = (LIMITED_SPEED if condition.is_limited else LEVEL, LOUDNESS, SHARPNESS)
    if needed or system.beside > 1 or system.push_pull is not None:
        of_sound = of_sound[:1]
    if not graph.sounding(fan) and not condition.is_limited:
        of_sound = ()
    elif graph.sounding(fan) and not graph.mountings(fan) and condition.for_heat is None:
        of_curve = ()
    measures = [measure_named(name) for name in (*of_curve, *of_sound)]
    return [each for each in measures if condition.speed is None or each.quantity != "speed"]


def _is_by_airflow(asked: Asked) -> bool:
    return asked.measure.origin not in (Origin.SOUND, Origin.LIMIT) and not is_by_heat(asked)


def _of_another_room(
    sounds: Sounds, asked: Asked, fan: str, blocked: Mapping[str, str], progress: Progress
) -> tuple[Number, dict[str, Plain]]:
    """A number of sound or of heat, kept, and under what it holds."""
    if is_by_heat(asked):
        by_heat = heat_answer(sounds, asked, blocked)
        sounds.lab.put_results([each.kept for each in by_heat.cases])
        left = tuple(by_heat.by.not_used.get(fan, ()))
        return _number(asked.measure, by_heat, fan, left), by_heat.conditions
    by_sound = sound_cases(sounds, asked, blocked, progress, 1)
    sounds.lab.put_results([each.kept for each in by_sound.cases])
    return _number(asked.measure, by_sound, fan), by_sound.conditions


def _number(
    measure: Measure, found: Answered[Case], fan: str, left_out: tuple[tuple[str, str], ...] = ()
) -> Number:
    if found.cases:
        return replace(number_of(measure, found.cases[0].candidate), left_out=left_out)
    return Number(measure, None, None, None, How.UNKNOWN, why=found.why(fan), left_out=left_out)


def number_of(measure: Measure, found: Candidate) -> Number:
    """A fan's value as a number of an answer."""
    low, _ = coverage_interval(found.low_trials)
    _, high = coverage_interval(found.high_trials)
    return Number(
        measure,
        found.value,
        float(low),
        float(high),
        found.how,
        found.ends is not None,
        found.marks,
        found.key,
        found.samples,
        found.mountings,
        bound=found.bound,
    )


@dataclass(frozen=True)
class _Taken:
    """By what the mountings of one measure are combined: spreads, bridges, those used, the spread's name."""

    spreads: Spreads
    carried: Carried
    nodes: tuple[CurveNode, ...]
    spread_name: str


Members = Sequence[tuple[CurveNode, BranchPoint]]


def _points(lab: Lab, question: Question, taken: Mapping[str, _Taken]) -> tuple[Point, ...]:
    """All operating points; the mountings that have as many as any are combined one by one."""
    obstacles: dict[str, Result] = {node.key: result_of(lab, node) for node in question.through.nodes}
    load = load_of(lab.path, question.through, obstacles)
    if load is None:
        return ()
    each = [(node, _points_of(lab, question, node, load)) for node in taken["airflow"].nodes]
    most = max((len(found) for _, found in each), default=0)
    having = [(node, found) for node, found in each if found and len(found) == most]
    return tuple(_point([(node, found[at]) for node, found in having], taken) for at in range(most))


def _points_of(lab: Lab, question: Question, node: CurveNode, load: Load) -> tuple[BranchPoint, ...]:
    limit = question.at_limit.limits[node.fan] if question.at_limit else None
    full = greatest_is_full(node)
    speeds = load_row_speeds(lab.path, limit, greatest_is_full=full) if limit else None
    return branch_points(load_fan(lab.path, result_of(lab, node)), load, question.condition, speeds)


def _point(members: Members, taken: Mapping[str, _Taken]) -> Point:
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


def _combined(name: str, members: Members, by: _Taken) -> tuple[float, float, float]:
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
