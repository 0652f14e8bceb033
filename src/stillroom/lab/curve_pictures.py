"""PQ curves and the collapse plot: the lab's curves as series for the charts room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from stillroom import wording
from stillroom.charts.series import CollapseChart, Curve, CurveChart, LoadLine, OperatingMark, Sweep
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.core.fanlaws import STANDARD_DENSITY, disc_area
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve as MountedCurve
from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.core.operating import operating_points
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, load_obstacle, result_of
from stillroom.lab.picture_words import footer, plain_name
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

MOST_CURVES = 6
STEP = 4
"""Every fourth abscissa of a curve is drawn: a hundred are enough for the eye."""


def curves(
    lab: Lab,
    book: Book,
    graph: Graph,
    only: Sequence[str],
    fan: str,
    through: Sequence[str],
    speed: float | None,
) -> tuple[CurveChart, str]:
    """PQ curves of fans (the first mounting of each) with load lines and operating points.

    Raises
    ------
    UnknownThing : a fan or obstacle that has no curve. NotPossible : no curve can be had at that speed.
    """
    names = list(dict.fromkeys([*([fan] if fan else []), *only])) or _measured(graph)[:MOST_CURVES]
    flow_unit = shown_unit(BY_NAME["flow"], book.settings.units)
    pressure_unit = shown_unit(BY_NAME["static_pressure"], book.settings.units)
    units = (flow_unit, pressure_unit)
    obstacles = {name: _obstacle(lab, graph, name) for name in through}
    drawn: list[tuple[str, MountedCurve, tuple[str, ...], CurveNode]] = []
    for name in names:
        node = _first(graph, name)
        mounted = load_fan(lab.path, result_of(lab, node))
        sources = _sources(mounted, obstacles.values())
        drawn.append((name, mounted.curve(speed, Part.TOTAL, sources), sources, node))
    marks = [
        _mark(name, curve, sources, obstacle, obstacles[obstacle], units, name == fan)
        for name, curve, sources, _ in drawn
        for obstacle in obstacles
    ]
    reach = max(float(curve.flow[0].max()) for _, curve, _, _ in drawn)
    top = max(float(curve.pressure[0].max()) for _, curve, _, _ in drawn)
    at = "at full speed" if speed is None else f"at {speed * 60:.0f} rpm"
    subject = drawn[0][3].subject if len(names) == 1 else wording.plural(len(names), "fan")
    picture = CurveChart(
        title=_title(subject, marks, list(obstacles), at),
        subtitle=f"Static pressure against airflow {at}, at 1.2 kg/m³; first mounting of each, bands show 95 %",
        footer=footer(book.settings, "airflow characteristic", wording.plural(len(names), "mounting")),
        x_label="Airflow",
        x_unit=flow_unit,
        y_label="Static pressure",
        y_unit=pressure_unit,
        curves=tuple(
            _curve(name, curve, units, name == fan, _points(lab, node, curve) if len(drawn) == 1 else ())
            for name, curve, _, node in drawn
        ),
        loads=tuple(_load(name, each, reach, top, units) for name, each in obstacles.items()),
        points=tuple(marks),
        alt=wording.curves_alt(
            f"{at}, 1.2 kg/m³",
            names,
            [(each.curve, each.load, each.label, each.word or wording.UNIQUE_WORD) for each in marks],
        ),
    )
    return picture, plain_name("curves", *(names if len(names) < 4 else [str(len(names))]), *through)


def _title(subject: str, marks: Sequence[OperatingMark], obstacles: Sequence[str], at: str) -> str:
    """The finding: what one fan moves through each obstacle, or from what to what several fans do."""
    if not marks:
        return f"What {subject} can do {at}"
    through = {name: [each for each in marks if each.load == name] for name in obstacles}
    if len(marks) == len(obstacles):
        parts = [f"{each[0].label} through {name}" for name, each in through.items()]
        return f"{subject} moves {wording.listed(parts)} {at}"
    parts = []
    for name, group in through.items():
        flows = [each.flow for each in group]
        unit = group[0].label.rpartition(wording.NO_BREAK)[2]
        parts.append(f"{wording.spread(min(flows), max(flows), unit)} through {name}")
    return f"{subject.capitalize()} move {wording.listed(parts)} {at}"


def _measured(graph: Graph) -> list[str]:
    names = list(dict.fromkeys(each.fan for each in graph.mountings() if not each.obstacle))
    if not names:
        raise NotPossible("curves", found="no fan with a run", expected="`stillroom add` first")
    return names


def _first(graph: Graph, fan: str) -> CurveNode:
    nodes = [each for each in graph.mountings() if each.fan == fan and not each.obstacle]
    if not nodes:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(_measured(graph)))
    return min(nodes, key=lambda each: (each.sample, each.runs[0].placed.date, each.subject))


def _obstacle(lab: Lab, graph: Graph, name: str) -> MeasuredObstacle:
    node = graph.obstacle(name)
    if node is None:
        known = ", ".join(each.subject for each in graph.curves if each.kind == "obstacle")
        raise UnknownThing("obstacle", found=repr(name), expected=known or "an obstacle with a run")
    return load_obstacle(lab.path, result_of(lab, node))


def _sources(fan: MountedFan, obstacles: Iterable[MeasuredObstacle]) -> tuple[str, ...]:
    names = dict.fromkeys(fan.characteristic.sources)
    for each in obstacles:
        names |= dict.fromkeys(each.resistance.sources)
    return tuple(names)


def _in(values: Array, unit: str) -> tuple[float, ...]:
    return tuple(round(from_si(float(each), unit), 6) for each in values)


def _curve(
    name: str,
    curve: MountedCurve,
    units: tuple[str, str],
    accent: bool,
    measured: tuple[tuple[float, float], ...],
) -> Curve:
    """The central curve down to no pressure, with the band of its trials."""
    low, high = coverage_interval(curve.pressure[1:], axis=0)
    shown = np.flatnonzero(curve.pressure[0] >= 0.0)[::STEP]
    end = int(np.argmax(curve.pressure[0] < 0.0)) if (curve.pressure[0] < 0.0).any() else None
    if end is not None:
        shown = np.append(shown[shown < end], end)
    return Curve(
        label=name,
        flow=_in(curve.flow[0][shown], units[0]),
        pressure=_in(np.maximum(curve.pressure[0][shown], 0.0), units[1]),
        low=_in(np.maximum(low[shown], 0.0), units[1]),
        high=_in(np.maximum(high[shown], 0.0), units[1]),
        measured=tuple((from_si(q, units[0]), from_si(p, units[1])) for q, p in measured),
        accent=accent,
    )


def _points(lab: Lab, node: CurveNode, curve: MountedCurve) -> tuple[tuple[float, float], ...]:
    """The points read at all speeds, brought to the curve's own: each as far from it as it was read [SI]."""
    phi = results.load_arrays(lab.path, node.key)["points_phi"]
    tip = np.pi * curve.fan.diameter * np.interp(phi, curve.phi, curve.speed[0])
    away = curve.fan.characteristic.residuals * (0.5 * STANDARD_DENSITY) * tip**2
    flow = phi * disc_area(curve.fan.diameter) * tip
    pressure = np.interp(phi, curve.phi, curve.pressure[0]) + away
    return tuple((float(q), float(p)) for q, p in zip(flow, pressure, strict=True))


def _load(
    name: str, obstacle: MeasuredObstacle, reach: float, top: float, units: tuple[str, str]
) -> LoadLine:
    flow = np.linspace(0.0, reach, 80)
    drop = obstacle.drop(flow, Part.CENTRAL, ())[0]
    inside = drop <= top * 1.02
    return LoadLine(name, _in(flow[inside], units[0]), _in(drop[inside], units[1]))


def _mark(
    name: str,
    curve: MountedCurve,
    sources: tuple[str, ...],
    obstacle: str,
    measured: MeasuredObstacle,
    units: tuple[str, str],
    accent: bool,
) -> OperatingMark:
    drop = measured.drop(curve.flow, Part.TOTAL, sources)
    found = operating_points(curve.phi, curve.pressure, drop, sources=len(sources))
    chosen = found.complete(f"operating point of {name} on {obstacle}")
    flow = curve.flow_at(chosen)
    ends = coverage_interval(flow[1 + len(sources) :])
    low, high = (from_si(float(each), units[0]) for each in ends)
    pressure = float(np.interp(chosen[0], curve.phi, curve.pressure[0]))
    value = from_si(float(flow[0]), units[0])
    unique = not found.not_unique
    if not unique:
        first = from_si(float(curve.flow_at(found.lowest)[0]), units[0])
        low = min(low, first)
    return OperatingMark(
        label=wording.with_unit(wording.rounded(value, low, high), units[0])
        if unique
        else wording.spread(low, high, units[0]),
        flow=value,
        pressure=from_si(pressure, units[1]),
        flow_low=low,
        flow_high=high,
        is_stable=True,
        is_unique=unique,
        word="" if unique else wording.NOT_UNIQUE_WORD,
        curve=name,
        load=obstacle,
        accent=accent,
    )


def collapse(lab: Lab, book: Book, graph: Graph, fan: str) -> tuple[CollapseChart, str]:
    """All sweeps of a fan in dimensionless form, with the curve of its first mounting.

    Raises
    ------
    UnknownThing : the fan has no run, or none is named and there are several.
    """
    known = _measured(graph)
    if not fan and len(known) > 1:
        raise UnknownThing("fan", found="none named", expected="--fan with one of " + ", ".join(known))
    name = fan or known[0]
    first = _first(graph, name)
    nodes = [each for each in graph.mountings() if each.fan == name and not each.obstacle]
    mounted = load_fan(lab.path, result_of(lab, first)).characteristic
    phi = np.linspace(0.0, mounted.reach[1], 120)
    rows = pressure_coefficients(mounted, phi, mounted.reynolds_reference)
    low, high = coverage_interval(rows[1 + len(mounted.sources) :], axis=0)
    sweeps: list[Sweep] = []
    for node in nodes:
        sweeps += _sweeps(lab, node, mounted)
    used = np.array([abs(each) for sweep in sweeps if not sweep.held for each in sweep.residual])
    within = float(np.quantile(used, 0.95)) if len(used) else 0.0
    held = [each.label for each in sweeps if each.held]
    words = f"95 % of the points lie within {wording.number(within, 1)} % of the greatest pressure"
    picture = CollapseChart(
        title=f"{name}: {wording.plural(len(sweeps), 'sweep')} fall on one curve"
        if not held
        else f"{name}: {wording.plural(len(held), 'sweep')} of {len(sweeps)} off the common curve",
        subtitle=f"All speeds and mountings, brought to one Reynolds number; {words}",
        footer=footer(book.settings, "airflow characteristic", wording.plural(len(nodes), "mounting")),
        sweeps=tuple(sweeps),
        phi=tuple(float(each) for each in phi),
        psi=tuple(float(each) for each in rows[0]),
        low=tuple(float(each) for each in low),
        high=tuple(float(each) for each in high),
        alt=wording.collapse_alt(name, len(sweeps), len(nodes), words, held),
    )
    return picture, plain_name("collapse", name)


OFF = 3.0
"""A sweep whose median distance from the common curve is more than this is called off the curve [%]."""


def _sweeps(lab: Lab, node: CurveNode, common: Characteristic) -> list[Sweep]:
    """The sweeps of one mounting against the common curve, each point at its own Reynolds number."""
    result = result_of(lab, node)
    arrays = results.load_arrays(lab.path, node.key)
    phi, reynolds = arrays["points_phi"], arrays["points_reynolds"]
    there = pressure_coefficients(common, phi, reynolds, part=Part.CENTRAL)[0]
    here = pressure_coefficients(common, phi, common.reynolds_reference, part=Part.CENTRAL)[0]
    away = arrays["points_psi"] - there
    share = 100.0 * away / float(here.max())
    dropped = {each["sweep"] for each in result.body["curve"]["sweeps"] if each["dropped"]}
    sweeps, start = [], 0
    for index, run in enumerate(result.body["runs"]):
        part = slice(start, start + run["points"])
        start = part.stop
        off = float(np.median(np.abs(share[part]))) > OFF
        sweeps.append(
            Sweep(
                label=f"{node.subject}, {run['setting'] or run['file']}",
                phi=tuple(float(each) for each in phi[part]),
                psi=tuple(float(each) for each in (here + away)[part]),
                residual=tuple(float(each) for each in share[part]),
                speed=run["setting"],
                mounting=node.subject,
                held=index in dropped or off,
                word="left out of the fit" if index in dropped else "off the common curve" if off else "",
            )
        )
    return sweeps
