"""A heat run against time for the charts room: the record, its settings, forecasts, and when each was steady."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.heat.series import (
    ForecastBand,
    Settled,
    SettlingChart,
    SettlingMark,
    SettlingStep,
)
from stillroom.core.arrays import Array
from stillroom.core.heat.forecast import Forecast
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.core.spread import FIRST_YEAR_MOUNTING_HEAT
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.book import Book
from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat, load_series
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.pictures.heat import heat_words as words
from stillroom.lab.pictures.heat.alt_texts import settling_alt
from stillroom.lab.pictures.picture_words import footer, plain_name, short_name
from stillroom.lab.recipes import Graph
from stillroom.methods.heat.series import HeatSeries
from stillroom.store.lab import Lab

MINUTE = 60.0
BAND_FROM = 2.0
"""From how many time constants on a forecast is drawn [1]: earlier none is made."""

BAND_TO = 5.0
"""Up to how many time constants after its begin a forecast is drawn at the most [1]."""

PLACES = 80
GAP = 8.0
"""A pause of so many usual intervals is a gap of the logger."""

LEAST_APART = 1.0
"""Stretches that were left out and lie closer than this are told as one [min]."""


@dataclass(frozen=True)
class Read:
    """One mounting's heat with the series behind it."""

    node: HeatNode
    heat: HeatMounting
    series: HeatSeries


def settling_chart(lab: Lab, book: Book, graph: Graph, fan: str, rig: str) -> tuple[SettlingChart, str]:
    """The latest heat run of a fan against time, and the name of its files.

    Parameters
    ----------
    fan : whose; that of the latest run where none is named. rig : on which; any where none is named.

    Raises
    ------
    NotPossible : no heat run, or none that could be reduced. UnknownThing : no such fan or rig.
    """
    read = _latest(lab, words.runs_of(graph, fan, rig))
    node, heat = read.node, read.heat
    record = np.isfinite(read.series.delta)
    times, values = read.series.times[record] / MINUTE, read.series.delta[record]
    if len(times) < 2:
        raise NotPossible(f"heat of {node.fan}", found="no rise over the air in its log")
    steps = tuple(_step(each, heat) for each in heat.steps)
    aside = _left_out(read.series)
    gaps = _gaps(times)
    radiator = f" through {short_name(book, node.radiator)}" if node.radiator else ""
    picture = SettlingChart(
        title=_title(node.fan, heat),
        subtitle=f"Rise of the liquid over the air going in {words.nominal_words(heat.nominal, node.rig)}{radiator}, "
        f"against time; run of {node.date}, band and lines show 95 %",
        footer=footer(book.settings, node.method, _among(read, graph)),
        x_label="Time",
        x_unit="min",
        y_label="Rise over air-in",
        y_unit="K",
        label=node.fan,
        time=tuple(round(float(each), 4) for each in times),
        value=tuple(round(float(each), 4) for each in values),
        steps=steps,
        left_out=aside,
        gaps=gaps,
        marks=tuple(_marks(aside, gaps)),
        notes=tuple(_notes(heat)),
        alt=settling_alt(
            f"{wording.isolate(node.fan)} {words.nominal_words(heat.nominal, node.rig)}, run of {node.date}",
            [(each.setting, _said(each)) for each in steps],
        ),
    )  # fmt: skip
    return picture, plain_name("settling", node.subject)


def _among(read: Read, graph: Graph) -> str:
    """Of how many runs of the fan one is drawn, on any rig, and how many of the others were excluded."""
    used, excluded = len(graph.heating(read.node.fan)), len(_excluded(graph, read.node.fan))
    if used + excluded == 1:
        return "the only run of this fan"
    said = f"one of {wording.plural(used + excluded, 'run')} of this fan"
    if not excluded:
        return said
    which = "the other" if used + excluded == 2 else wording.count(excluded)
    return f"{said}, {which} excluded"


def _excluded(graph: Graph, fan: str) -> set[tuple[str, str, str]]:
    """The mountings of a fan of which a decision leaves every log out: (mounting, sample, rig)."""
    there = {log.name for node in graph.heating(fan) for log in (*node.logs, *node.left_out)}
    there |= {placed.run for placed, _ in graph.unplaced}
    placed = (each.run.placed for each in graph.logs if each.name not in there)
    return {(each.mounting, each.sample, each.rig) for each in placed if each.fan == fan and not each.is_bath}


def _latest(lab: Lab, nodes: Sequence[HeatNode]) -> Read:
    """The latest run that could be reduced.

    Raises
    ------
    NotPossible : none could be; with why the latest couldn't.
    """
    whys: list[StillroomError] = []
    for node in reversed(nodes):
        try:
            result = result_of(lab, node)
            return Read(node, load_heat(lab.path, result), load_series(lab.path, result))
        except StillroomError as error:
            whys.append(error)
    raise whys[0]


# --- steps ------------------------------------------------------------------------------------------------


HOW = {
    StepHow.STEADY: Settled.MEASURED,
    StepHow.FORECAST: Settled.FORECAST,
    StepHow.NOT_STEADY: Settled.NOT_STEADY,
}


def interval_of(step: HeatStep, heat: HeatMounting) -> tuple[float, float]:
    """The 95 % interval of a step's rise at nominal power [K]: its own errors, those shared with other runs, and how
    the fan was mounted: a title has no digit that the next mounting would change.
    """
    shared = sum(each**2 for each in (heat.sources or {}).values())
    half = words.Z95 * math.sqrt(step.u_own**2 + shared + FIRST_YEAR_MOUNTING_HEAT**2)
    return step.delta_nominal - half, step.delta_nominal + half


def _step(step: HeatStep, heat: HeatMounting) -> SettlingStep:
    told = step.is_result and math.isfinite(step.delta_nominal)
    low, high = interval_of(step, heat) if told else (None, None)
    since = (step.steadiness or {}).get("since")
    return SettlingStep(
        first=step.first / MINUTE,
        last=step.last / MINUTE,
        setting=words.setting_of(step),
        how=HOW[step.how] if told else Settled.NOT_STEADY,
        value=step.delta_nominal if told else None,
        low=low,
        high=high,
        since=since / MINUTE if since is not None and step.how is StepHow.STEADY else None,
        forecast=_band(step),
        word=_word(step, told=told),
    )


def _word(step: HeatStep, *, told: bool) -> str:
    """What stands at a step besides its value: how long one was that is forecast, why there is none."""
    if not told:
        return StepHow.NOT_STEADY.value
    if step.how is StepHow.FORECAST and step.span is not None:
        return f"after {step.span:.1f} τ"
    return ""


def _band(step: HeatStep) -> ForecastBand | None:
    """The curve that a step was forecast to follow, from where a forecast can be made on; None without one."""
    if step.forecast is None:
        return None
    told = Forecast(**step.forecast)
    first = told.start + min(BAND_FROM * told.tau, 0.5 * (told.end - told.start))
    last = told.end
    if step.how is StepHow.FORECAST:
        last = max(told.end, min(told.end + told.wait, told.start + BAND_TO * told.tau))
    if not first < last:
        return None
    times = np.linspace(first, last, PLACES)
    central, low, high = told.at(times)
    rows = (times / MINUTE, central, low, high)
    return ForecastBand(*(tuple(round(float(each), 4) for each in row) for row in rows))


def _left_out(series: HeatSeries) -> tuple[tuple[float, float], ...]:
    """Stretches of the record that the steps leave out [min]: spikes, an opened door; near ones told as one.

    Those at the very beginning of a step are not shown: there the rise bends, and nothing was disturbed.
    """
    begins = {each.first for each in series.spans}
    shown = [each for each in series.left_out if each[0] not in begins]
    found: list[tuple[float, float]] = []
    for first, last in ((one / MINUTE, other / MINUTE) for one, other in shown):
        if found and first - found[-1][1] <= LEAST_APART:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return tuple(found)


def _gaps(times: Array) -> tuple[tuple[float, float], ...]:
    """Pauses of the logger [min]."""
    apart = np.diff(times)
    usual = float(np.median(apart))
    return tuple((float(times[k]), float(times[k + 1])) for k in np.flatnonzero(apart > GAP * usual))


# --- words ------------------------------------------------------------------------------------------------


def _marks(
    aside: Sequence[tuple[float, float]], gaps: Sequence[tuple[float, float]]
) -> Iterable[SettlingMark]:
    """The longest stretch that was left out, and the longest gap: each said once."""
    for stretches, said in ((aside, "left out"), (gaps, "no readings")):
        if stretches:
            first, last = max(stretches, key=lambda each: each[1] - each[0])
            yield SettlingMark((first + last) / 2, said)


def _title(fan: str, heat: HeatMounting) -> str:
    """The finding: where it settled at its settings, and how many of them are forecast or came to nothing."""
    who, results = wording.isolate(fan), heat.results
    if not results:
        return f"{who} did not become steady, and could not be forecast"
    settings = {words.short_setting(each): each for each in reversed(results)}  # of a repeated one the first
    told = sorted(settings.items(), key=lambda pair: pair[1].number)
    said = [f"{words.rise(each.delta_nominal, *interval_of(each, heat))} at {setting}"
            for setting, each in (told if len(told) < 3 else (told[0], told[-1]))]  # fmt: skip
    forecast = [each for each in results if each.how is StepHow.FORECAST]
    rest = len(heat.steps) - len(results)
    verb = "is forecast to settle" if len(forecast) == len(results) else "settles"
    ends = (
        [f"{wording.count(len(forecast))} of {wording.count(len(heat.steps))} forecast"]
        if 0 < len(forecast) < len(results)
        else []
    )
    ends += [f"{wording.count(rest)} of {wording.count(len(heat.steps))} not steady"] if rest else []
    return f"{who} {verb} at {wording.listed(said)}" + (f"; {', '.join(ends)}" if ends else "")


def _notes(heat: HeatMounting) -> Iterable[str]:
    """What must be said: of forecasts, of clocks, and the marks of steps, each once."""
    if any(each.how is StepHow.FORECAST for each in heat.steps):
        yield "A step that was not waited for has its forecast value, with its larger interval."
    marks = dict.fromkeys((*heat.marks, *(mark for each in heat.steps for mark in each.marks)))
    told = [each for each in marks if each != "some steps are forecast"]
    if told:
        yield wording.sentence("; ".join(told))


def _said(step: SettlingStep) -> str:
    """A step for those who hear the chart."""
    if step.value is None:
        return step.word
    value = f"{step.how} {wording.with_interval(step.value, step.low, step.high, 'K')}"
    if step.since is None:
        return value
    after = wording.with_unit(wording.number(step.since - step.first), "min")
    return f"{value}, steady after {after}"
