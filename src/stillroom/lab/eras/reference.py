"""The reference fan on a rig: each of its mountings is a check of the rig, drawn on a control chart.

A check is taken at one given speed, that of the first check, by the fan laws: so the supply doesn't matter. The
speed that the fan reaches at full setting is a line of its own: it tells of the supply and the tachometer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache

from stillroom.core.control_chart import Check, Signal, judge
from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, load_obstacle, result_of
from stillroom.lab.eras.eras import Era, Eras
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.measures import Condition, Measure, evaluate, measure_named
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME

VERSION = 1
"""Raised when the same mounting would give another check."""

FEW_TRIALS = 200
"""Trials with which a check is taken: its value needs none, the speed's own uncertainty some."""

SUPPLY = 0.1
"""How far a check's own speeds may lie from the speed of the checks; the fan laws bridge so much [1]."""


@dataclass(frozen=True)
class Line:
    """One line of the control chart: a measure, at the checks' speed or at full setting."""

    measure: str
    at_speed: bool = True
    through: bool = False


LINES: tuple[Line, ...] = (
    Line("free-airflow"),
    Line("maximum-pressure"),
    Line("airflow", through=True),
    Line("free-speed", at_speed=False),
)
"""What is watched of the reference fan; airflow through the lab's first reference obstacle, where one is named."""


@dataclass(frozen=True)
class ReferenceCheck:
    """One mounting of the reference fan on a rig.

    Parameters
    ----------
    node : the mounting. era : of the rig. date : of it, ISO.
    values : {measure: value}, SI. reading_u : {measure: standard uncertainty by readings alone}, SI; 0 for what is
    taken from a curve, whose own trials hold what lies between the points as well: checks share that.
    failed : {measure: why there is no value}.
    """

    node: CurveNode
    era: Era
    date: str
    values: Mapping[str, float]
    reading_u: Mapping[str, float]
    failed: Mapping[str, str]

    @property
    def mounting(self) -> str:
        """The mounting's name."""
        return self.node.subject


@dataclass(frozen=True)
class ChartEvent:
    """A line of the log on the chart's axis; `new_era` where it can have moved results."""

    time: str
    text: str
    new_era: bool


@dataclass(frozen=True)
class ControlChart:
    """One line of the reference fan's checks on a rig, in the order of time; all series are as long as `dates`.

    Parameters
    ----------
    rig, fan, what, unit : the rig, the reference fan with its sample, the measure's name, the SI unit of all values.
    speed : the speed at which the checks are taken [1/s], None for the line of the speed itself.
    dates, mountings : of each check. eras : number of its era. values : what was read.
    centre, limits : centre and action limits under which each check was judged; None while not established.
    ewma, ewma_limits : the same for the moving average. signals : what the chart says of each check.
    events : what the log holds of the rig.
    """

    rig: str
    fan: str
    what: str
    unit: str
    speed: float | None
    dates: tuple[str, ...]
    mountings: tuple[str, ...]
    eras: tuple[int, ...]
    values: tuple[float, ...]
    centre: tuple[float | None, ...]
    limits: tuple[tuple[float, float] | None, ...]
    ewma: tuple[float | None, ...]
    ewma_limits: tuple[tuple[float, float] | None, ...]
    signals: tuple[tuple[Signal, ...], ...]
    events: tuple[ChartEvent, ...]

    @property
    def established(self) -> bool:
        """Whether the latest check was judged by established limits."""
        return bool(self.limits) and self.limits[-1] is not None


def reference_rigs(book: Book, graph: Graph) -> tuple[str, ...]:
    """The rigs on which the reference fan was mounted."""
    return tuple(sorted({node.runs[0].placed.rig for node in _mountings(book, graph)}))


def reference_name(book: Book, graph: Graph) -> str:
    """The reference fan with its sample: the sample that lab.toml names, else the one that was measured first."""
    fan, _, sample = book.settings.reference_fan.partition("/")
    own = [node for node in graph.mountings(fan) if node.fan == fan and not node.obstacle] if fan else []
    first = min(own, key=_when, default=None)
    return f"{fan}/{sample or first.sample}" if first else fan


def _mountings(book: Book, graph: Graph, rig: str | None = None) -> list[CurveNode]:
    """The checks of a rig (or of all), in the order of time."""
    fan, _, sample = reference_name(book, graph).partition("/")
    if not sample:
        return []
    own = [
        each for each in graph.mountings(fan) if (each.fan, each.sample, each.obstacle) == (fan, sample, "")
    ]
    return sorted((each for each in own if rig in (None, each.runs[0].placed.rig)), key=_when)


def _when(node: CurveNode) -> str:
    return node.runs[0].placed.date


def reference_checks(lab: Lab, book: Book, graph: Graph, rig: str) -> tuple[ReferenceCheck, ...]:
    """The checks of a rig that were reduced, in the order of time; those of one day in the order of the files."""
    mountings = _mountings(book, graph, rig)
    there = results.known(lab.database, lab.path, [each.key for each in mountings])
    nodes = [each for each in mountings if each.key in there]
    speed = check_speed(lab, nodes)
    obstacle = watched_obstacle(lab, book, graph)
    loaded = cache(lambda: _few_of(load_obstacle(lab.path, result_of(lab, obstacle))) if obstacle else None)
    eras = Eras(book)
    made, checks = [], []
    for node in nodes:
        kept, new = _check(lab, node, speed, obstacle.key if obstacle else "", loaded)
        made += [kept] if new else []
        body = kept.body
        checks.append(ReferenceCheck(node, eras.of(node), _when(node), body["values"], body["reading_u"],
                                     body["failed"]))  # fmt: skip
    if made:
        lab.put_results(made)
    return tuple(checks)


def check_speed(lab: Lab, nodes: list[CurveNode]) -> float | None:
    """The speed of all checks [1/s]: the greatest of the first check that has one, to whole 10 rpm."""
    for node in nodes:
        key = key_of("check speed", VERSION, node.key)
        kept = results.get(lab.database, key)
        if kept is None:
            curve = results.get(lab.database, node.key)
            if curve is None:
                continue
            speed = None if curve.failed else round(load_fan(lab.path, curve).speeds[1] * 6.0) / 6.0
            kept = Result(key, "check speed", node.subject, {"mounting": node.key}, f"reference check {VERSION}", False,
                          {"speed": speed})  # fmt: skip
            lab.put_results([kept])
        if kept.body["speed"] is not None:
            return float(kept.body["speed"])
    return None


def watched_obstacle(lab: Lab, book: Book, graph: Graph) -> CurveNode | None:
    """The first reference obstacle, where one is named and was reduced."""
    for name in book.settings.references[:1]:
        node = graph.obstacle(name)
        if node and results.known(lab.database, lab.path, [node.key]):
            return node
    return None


def _check(
    lab: Lab,
    node: CurveNode,
    speed: float | None,
    obstacle: str,
    loaded: Callable[[], MeasuredObstacle | None],
) -> tuple[Result, bool]:
    """The values of one check, and whether they were worked out now; `obstacle` is the key of what `loaded` gives."""
    lines = [each for each in LINES if obstacle or not each.through]
    measures = [measure_named(each.measure) for each in lines]
    key = key_of("reference check", VERSION, node.key, speed, obstacle,
                 [(each.name, each.version) for each in measures])  # fmt: skip
    kept = results.get(lab.database, key)
    if kept is not None:
        return kept, False
    values: dict[str, float] = {}
    reading_u: dict[str, float] = {}
    failed: dict[str, str] = {}
    load = cache(lambda: _few(load_fan(lab.path, result_of(lab, node))))
    for line, measure in zip(lines, measures, strict=True):
        try:
            found = evaluate(measure, *_asked(load(), loaded() if line.through else None, line, speed))
            values[measure.name] = found.value
            reading_u[measure.name] = 0.0 if line.at_speed else float(found.noise.std())
        except StillroomError as error:
            failed[measure.name] = error.sentence()
    body = {"values": values, "reading_u": reading_u, "failed": failed, "speed": speed}
    inputs = {"mounting": node.key, "obstacle": obstacle}
    return Result(
        key, "reference check", node.subject, inputs, f"reference check {VERSION}", False, body
    ), True


def _few(fan: MountedFan) -> MountedFan:
    """The same mounting with few trials: a check is taken every day, and its interval isn't asked for."""
    curve, full = fan.characteristic, fan.full_speed
    return replace(
        fan,
        characteristic=replace(curve, noise=curve.noise[:FEW_TRIALS]),
        full_speed=replace(full, noise=full.noise[:FEW_TRIALS]) if full else None,
    )


def _few_of(obstacle: MeasuredObstacle) -> MeasuredObstacle:
    resistance = obstacle.resistance
    return replace(obstacle, resistance=replace(resistance, noise=resistance.noise[:FEW_TRIALS]))


def _asked(
    fan: MountedFan, obstacle: MeasuredObstacle | None, line: Line, speed: float | None
) -> tuple[MountedFan, MeasuredObstacle | None, Condition]:
    """What is put to the measure: at the checks' speed the fan laws reach a little beyond the speeds tested."""
    if not line.at_speed or speed is None:
        return fan, obstacle, Condition()
    low, high = fan.speeds
    if low * (1.0 - SUPPLY) <= speed <= high * (1.0 + SUPPLY):
        fan = replace(fan, speeds=(min(low, speed), max(high, speed)))
    return fan, obstacle, Condition(speed)


def judged(checks: tuple[ReferenceCheck, ...], measure: str) -> dict[str, Check]:
    """What the control chart of a measure says of each check that has a value, {mounting: check}, era by era."""
    found: dict[str, Check] = {}
    for era in {each.era.number for each in checks}:
        own = [each for each in checks if each.era.number == era and measure in each.values]
        first = [each.reading_u[measure] for each in own[:10]]
        reading_u = sum(first) / len(first) if first else 0.0
        said = judge([each.values[measure] for each in own], reading_u=reading_u)
        found |= {each.mounting: check for each, check in zip(own, said, strict=True)}
    return found


def control_chart(lab: Lab, book: Book, graph: Graph, rig: str, what: str = "free-airflow") -> ControlChart:
    """One line of the reference fan's checks on a rig, with limits, signals and events.

    Parameters
    ----------
    rig : a rig of `reference_rigs`. what : a measure of LINES.

    Raises
    ------
    NotPossible : no reference fan is named, it was never measured on the rig, or no check has the measure.
    UnknownThing : a measure that isn't watched.
    """
    if what not in [each.measure for each in LINES]:
        known = ", ".join(each.measure for each in LINES)
        raise UnknownThing("line of the control chart", found=repr(what), expected=known)
    for chart in control_charts(lab, book, graph, rig):
        if chart.what == what:
            return chart
    raise NotPossible(f"control chart of {rig or 'the rig'}", found=_missing(book, graph, rig, measure_named(what)),
                      expected="reference_fan in lab.toml, and its runs on the rig")  # fmt: skip


def control_charts(lab: Lab, book: Book, graph: Graph, rig: str) -> list[ControlChart]:
    """All lines of the reference fan's checks on a rig that have a value."""
    checks = reference_checks(lab, book, graph, rig)
    speed = check_speed(lab, [each.node for each in checks])
    found = []
    for line in LINES:
        own = tuple(each for each in checks if line.measure in each.values)
        if own:
            found.append(_chart(book, graph, rig, line, own, speed if line.at_speed else None))
    return found


def _chart(
    book: Book,
    graph: Graph,
    rig: str,
    line: Line,
    checks: tuple[ReferenceCheck, ...],
    speed: float | None,
) -> ControlChart:
    said = judged(checks, line.measure)
    judgements = [said[each.mounting] for each in checks]
    limits = [each.limits for each in judgements]
    return ControlChart(
        rig=rig,
        fan=reference_name(book, graph),
        what=line.measure,
        unit=BY_NAME[measure_named(line.measure).quantity].unit,
        speed=speed,
        dates=tuple(each.date for each in checks),
        mountings=tuple(each.mounting for each in checks),
        eras=tuple(each.era.number for each in checks),
        values=tuple(each.values[line.measure] for each in checks),
        centre=tuple(each.base.centre if each else None for each in limits),
        limits=tuple((each.low, each.high) if each else None for each in limits),
        ewma=tuple(each.ewma if each else None for each in limits),
        ewma_limits=tuple((each.ewma_low, each.ewma_high) if each else None for each in limits),
        signals=tuple(each.signals for each in judgements),
        events=chart_events(book, rig),
    )


def _missing(book: Book, graph: Graph, rig: str, measure: Measure) -> str:
    if not book.settings.reference_fan:
        return "no reference fan in lab.toml"
    if rig not in reference_rigs(book, graph):
        return f"no run of {book.settings.reference_fan} on {rig or 'a rig'}"
    return f"no check that has a {measure.title.lower()}"


def chart_events(book: Book, rig: str) -> tuple[ChartEvent, ...]:
    """What the log holds of a rig, in the order of time."""
    own = [each for each in book.events.values() if each.rig in (None, "", rig)]
    return tuple(
        ChartEvent(each.time, each.text, bool(each.changes_results))
        for each in sorted(own, key=lambda each: each.time)
    )
