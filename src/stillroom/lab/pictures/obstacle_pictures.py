"""Resistance curves of obstacles, from the lab's results to series."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom import wording
from stillroom.charts.further_series import ObstacleChart, ObstacleCurve
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import MeasuredObstacle
from stillroom.core.resistance import Law, pressure_drop, scaled
from stillroom.core.room_air import STANDARD_AIR
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab import versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_obstacle, result_of
from stillroom.lab.pictures.picture_words import described, footer, plain_name, short_name
from stillroom.lab.recipes import Graph
from stillroom.store.lab import Lab
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME, from_si, shown_unit, unit

STEPS = 80
APART = 12.0
"""Where the greatest drop at a common flow is more than this many times the least, powers of ten are drawn:
on a linear axis the least would lie on the axis [1]."""

FLOW, DROP = "flow", "resistance_pressure"


def obstacle_curves(lab: Lab, book: Book, graph: Graph, names: Sequence[str]) -> tuple[ObstacleChart, str]:
    """Pressure drop against airflow of obstacles, versions apart, in standard air, and the name of the files.

    Parameters
    ----------
    names : obstacles, with their version or all versions of one; the lab's references, each in its latest
        version, where none is named, and all of the lab where it has none.

    Raises
    ------
    UnknownThing : a name that no measured obstacle carries. NotPossible : nothing was measured.
    """
    nodes = _nodes(graph, names) if names else _usual(book, graph)
    flow_unit, drop_unit = (shown_unit(BY_NAME[each], book.settings.units) for each in (FLOW, DROP))
    drawn, failed = [], []
    for node in nodes:
        try:
            result = result_of(lab, node)
        except StillroomError as error:
            failed.append(f"{node.subject}: {error.found or error.sentence()}")
            continue
        obstacle = load_obstacle(lab.path, result)
        drawn.append((node, result, obstacle))
    if not drawn:
        raise NotPossible("curves of obstacles", found="; ".join(failed) or "no obstacle with a run",
                          expected="`stillroom add` with their pressure drop against flow")  # fmt: skip
    least, most = _at_common(drawn)
    is_log = most > APART * least > 0.0
    left = len(measured_obstacles(graph)) - len(nodes)
    runs = sum(len(node.runs) for node, _, _ in drawn)
    picture = ObstacleChart(
        title=_title(book, drawn, flow_unit),
        subtitle=f"Pressure drop against airflow of one piece, at 1.2 kg/m³ and 20 °C; bands show 95 %"
        f"{'; axes by powers of ten' if is_log else ''}"
        + (f"; {left} more not shown" if left and not names else ""),
        footer=footer(book.settings, "airflow obstacle", wording.plural(runs, "run")),
        x_label=BY_NAME[FLOW].label,
        x_unit=flow_unit,
        y_label=BY_NAME[DROP].label,
        y_unit=drop_unit,
        curves=tuple(_curve(book, *each, (flow_unit, drop_unit)) for each in drawn),
        is_log=is_log,
        notes=tuple(f"Not drawn: {each}." for each in failed),
        alt=_alt(book, drawn, (flow_unit, drop_unit)),
    )
    return picture, plain_name("obstacles", *names)


_Drawn = tuple[CurveNode, Result, MeasuredObstacle]


def measured_obstacles(graph: Graph) -> list[CurveNode]:
    """The versions of obstacles with a run of their own."""
    return [each for each in graph.curves if each.kind == "obstacle"]


def _usual(book: Book, graph: Graph) -> list[CurveNode]:
    references = [graph.obstacle(each) for each in book.settings.references]
    return list({each.key: each for each in references if each}.values()) or measured_obstacles(graph)


def _nodes(graph: Graph, names: Sequence[str]) -> list[CurveNode]:
    every = measured_obstacles(graph)
    found: list[CurveNode] = []
    for name in names:
        own = [each for each in every if name in (each.subject, versions.bare(each.subject))]
        if not own:
            known = ", ".join(each.subject for each in every)
            raise UnknownThing("obstacle", found=repr(name), expected=known or "an obstacle with a run")
        found += [each for each in own if each not in found]
    return found


def _label(book: Book, node: CurveNode) -> str:
    return described(book, node.subject)


def _grid(obstacle: MeasuredObstacle) -> Array:
    """Flows from a fraction of the least reading to the greatest, evenly by factors: smooth on both axes."""
    low, high = obstacle.resistance.reach
    return np.geomspace(max(low, 1e-3 * high), high, STEPS)


def _drop(obstacle: MeasuredObstacle, flow: Array) -> float:
    return float(obstacle.drop(flow, Part.CENTRAL, ())[0, 0])


def _at_common(drawn: Sequence[_Drawn]) -> tuple[float, float]:
    """Least and greatest drop of all obstacles at a flow that all were measured at."""
    common = np.array([min(each.resistance.reach[1] for _, _, each in drawn)])
    drops = [_drop(each, common) for _, _, each in drawn]
    return min(drops), max(drops)


def _curve(
    book: Book, node: CurveNode, result: Result, obstacle: MeasuredObstacle, units: tuple[str, str]
) -> ObstacleCurve:
    flow = _grid(obstacle)
    rows = obstacle.drop(flow, Part.TOTAL, obstacle.resistance.sources)
    low, high = coverage_interval(rows[1 + len(obstacle.resistance.sources) :], axis=0)
    return ObstacleCurve(
        label=_label(book, node),
        short=short_name(book, node.subject),
        flow=_in(flow, units[0]),
        drop=_in(rows[0], units[1]),
        low=_in(np.maximum(low, 0.0), units[1]),
        high=_in(high, units[1]),
        measured=_readings(result, obstacle, units),
        law=f"Δp = {obstacle.resistance.law.value}",
        parameters=_parameters(obstacle, units),
    )


def _in(values: Array, symbol: str) -> tuple[float, ...]:
    return tuple(from_si(float(each), symbol) for each in values)


def _readings(
    result: Result, obstacle: MeasuredObstacle, units: tuple[str, str]
) -> tuple[tuple[float, float], ...]:
    """The readings brought to standard air: each as far from the curve, in relation, as it was read."""
    flows, drops = (
        np.concatenate([np.asarray(run[name], dtype=np.float64) for run in result.body["runs"]])
        for name in ("flow", "pressure")
    )
    here = pressure_drop(
        obstacle.resistance.law, obstacle.resistance.central[None, :], np.maximum(flows, 0.0)
    )[0]
    there = obstacle.drop(np.maximum(flows, 0.0), Part.CENTRAL, ())[0]
    brought = np.where(here > 0.0, drops * there / np.where(here > 0.0, here, 1.0), drops)
    return tuple(zip(_in(flows, units[0]), _in(brought, units[1]), strict=True))


def _parameters(obstacle: MeasuredObstacle, units: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """The law's parameters in standard air with their 95 % intervals, in the units shown."""
    law = obstacle.resistance.law
    rows = scaled(law, obstacle.resistance.rows(Part.TOTAL, obstacle.resistance.sources),
                  STANDARD_AIR.density / obstacle.density, STANDARD_AIR.viscosity / obstacle.viscosity)  # fmt: skip
    low, high = coverage_interval(rows[1 + len(obstacle.resistance.sources) :], axis=0)
    flow, drop = unit(units[0]).factor, unit(units[1]).factor
    if law is Law.LINEAR_QUADRATIC:
        told = (
            ("a", f"{units[1]}/({units[0]})", flow / drop),
            ("b", f"{units[1]}/({units[0]})²", flow**2 / drop),
        )
    else:
        told = (("c", f"{units[1]}/({units[0]})ⁿ", float(flow ** rows[0, 1] / drop)), ("n", "", 1.0))
    return tuple(
        (name, wording.significant(rows[0, at] * factor, low[at] * factor, high[at] * factor, symbol))
        for at, (name, symbol, factor) in enumerate(told)
    )


def _title(book: Book, drawn: Sequence[_Drawn], flow_unit: str) -> str:
    """The finding: how many times the most restrictive one resists as much as the least."""
    if len(drawn) == 1:
        node, _, obstacle = drawn[0]
        return f"How {_label(book, node)} resists the air: Δp = {obstacle.resistance.law.value}"
    common = min(each.resistance.reach[1] for _, _, each in drawn)
    order = sorted(drawn, key=lambda each: _drop(each[2], np.array([common])))
    ratio = _drop(order[-1][2], np.array([common])) / _drop(order[0][2], np.array([common]))
    at = wording.with_unit(wording.number(from_si(common, flow_unit)), flow_unit)
    times = wording.number(ratio) if ratio >= 3 else wording.number(ratio, 1)
    most, least = (short_name(book, each[0].subject) for each in (order[-1], order[0]))
    return f"At {at} {most} resists {times}{wording.NO_BREAK}times as much as {least}"


def _alt(book: Book, drawn: Sequence[_Drawn], units: tuple[str, str]) -> str:
    parts = []
    for node, _, obstacle in drawn:
        top = np.array([obstacle.resistance.reach[1]])
        at = wording.with_unit(wording.bare(from_si(float(top[0]), units[0])), units[0])
        drop = wording.with_unit(wording.bare(from_si(_drop(obstacle, top), units[1])), units[1])
        parts.append((_label(book, node), f"{drop} at {at}"))
    return wording.obstacles_alt(parts)
