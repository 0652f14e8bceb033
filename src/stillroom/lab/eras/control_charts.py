"""The reference fan's checks of a rig as control charts, with what the log holds of the rig on the same axis."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.control_chart import Signal
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.eras.check_ways import LINES, Line, way_of
from stillroom.lab.eras.reference import (
    ReferenceCheck,
    check_speed,
    judged,
    reference_checks,
    reference_name,
    reference_rigs,
)
from stillroom.lab.eras.rig_nodes import moment_of
from stillroom.lab.recipes import Graph
from stillroom.measures import Measure, measure_named
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME


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
    dates, mountings : of each check, with its time where that is known. eras : of each. values : what was read.
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
    if not checks:
        return []
    nodes = [each.node for each in checks]
    speed = check_speed(lab, nodes, way_of(lab, book, graph, nodes[0]))
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
        dates=tuple(moment_of(each.node) for each in checks),
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
