"""PQ curves: the lab's curves under a condition as series for the charts room, with load lines and crossings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.series import Curve, CurveChart
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.fanlaws import disc_area
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve as MountedCurve
from stillroom.core.systems import PUSH_PULL_SOURCE, Load
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.cases import density_words, speed_words
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.pictures.condition_words import (
    air_phrase,
    arrangement,
    file_parts,
    speed_phrase,
    subject,
    tiles_of,
)
from stillroom.lab.pictures.crossing_pictures import key_of_points, load_line, marks_of, numbered
from stillroom.lab.pictures.picture_words import footer, plain_name, short_name
from stillroom.lab.recipes import Graph
from stillroom.lab.system_words import Conditions, system_told
from stillroom.lab.through import load_of, through_of
from stillroom.measures import Condition
from stillroom.measures.value import curve_in, load_in, setting_marks, system_marks
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

MOST_CURVES = 6
STEP = 4
"""Every fourth abscissa of a curve is drawn: a hundred are enough for the eye."""


@dataclass(frozen=True)
class Drawn:
    """One fan's curve under the condition, with the shared sources of its rows."""

    name: str
    node: CurveNode
    curve: MountedCurve
    sources: tuple[str, ...]


def curves(
    lab: Lab,
    book: Book,
    graph: Graph,
    only: Sequence[str],
    fan: str,
    through: Sequence[str],
    condition: Condition,
) -> tuple[CurveChart, str]:
    """PQ curves of fans (the first mounting of each) with load lines and operating points.

    Parameters
    ----------
    only, fan : whose curves; `fan` is under review. The first six of the lab where none is named, which the
        chart says. through : what the air goes through, as for --through, one load line each.
    condition : setting, arrangement of fans and air; its obstacle is not looked at.

    Raises
    ------
    UnknownThing : a fan or obstacle that has no curve. NotPossible : no curve can be had under the condition.
    """
    known = measured_fans(graph)
    asked = list(dict.fromkeys([*([fan] if fan else []), *only]))
    names = asked or known[:MOST_CURVES]
    units = (
        shown_unit(BY_NAME["flow"], book.settings.units),
        shown_unit(BY_NAME["static_pressure"], book.settings.units),
    )
    loads = dict(_load(lab, book, graph, text, condition) for text in through)
    drawn, notes = _drawn(lab, graph, names, loads, condition, strict=bool(asked))
    lines = [(each.name, each.curve, each.sources) for each in drawn]
    met = numbered(
        [each for words, load in loads.items() for each in marks_of(lines, words, load, units, fan)]
    )
    reach = max(float(each.curve.flow[0].max()) for each in drawn)
    top = max(float(each.curve.pressure[0].max()) for each in drawn)
    told = {"speed": speed_words(condition), **system_told(condition.system)}
    at = speed_phrase(told)
    points = tuple(each.mark for each in met if each.mark is not None)
    left = len(known) - len(names) if not asked else 0
    picture = CurveChart(
        title=_title(drawn, list(loads), told),
        subtitle=_subtitle(condition, at, left, len(known), len(names)),
        footer=footer(book.settings, "airflow characteristic", wording.plural(len(drawn), "mounting")),
        x_label="Airflow",
        x_unit=units[0],
        y_label="Static pressure",
        y_unit=units[1],
        curves=tuple(
            _curve(each, units, each.name == fan, _points(lab, each, condition) if len(drawn) == 1 else ())
            for each in drawn
        ),
        loads=tuple(load_line(words, load, reach, top, units) for words, load in loads.items()),
        points=points,
        notes=(*key_of_points(met, units[0]), *notes),
        alt=wording.curves_alt(
            f"{at}, {density_words(condition.system)}",
            [each.name for each in drawn],
            [(each.curve, each.load, each.label, each.word or wording.UNIQUE_WORD) for each in points],
        ),
    )
    shown = [each.name for each in drawn]
    return picture, plain_name(
        "curves", *(shown if len(shown) < 4 else [str(len(shown))]), *through, *file_parts(told)
    )


def measured_fans(graph: Graph) -> list[str]:
    """The fans with a run of their own.

    Raises
    ------
    NotPossible : there is none.
    """
    names = list(dict.fromkeys(each.fan for each in graph.mountings() if not each.obstacle))
    if not names:
        raise NotPossible("curves", found="no fan with a run", expected="`stillroom add` first")
    return names


def first_mounting(graph: Graph, fan: str) -> CurveNode:
    """The first mounting of a fan's first sample.

    Raises
    ------
    UnknownThing : the fan has no run of its own.
    """
    nodes = [each for each in graph.mountings() if each.fan == fan and not each.obstacle]
    if not nodes:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(measured_fans(graph)))
    return min(nodes, key=lambda each: (each.sample, each.runs[0].placed.date, each.subject))


def _load(lab: Lab, book: Book, graph: Graph, text: str, condition: Condition) -> tuple[str, Load]:
    """What one --through means, in words and as a load in the condition's air and area."""
    found = through_of(book, graph, text)
    load = load_of(lab.path, found, {node.key: result_of(lab, node) for node in found.nodes})
    ready = load_in(load, condition.system)
    if load is None or ready is None:
        raise NotPossible(f"load line of {text}", found="fans measured with it mounted",
                          expected="an obstacle with a resistance of its own")  # fmt: skip
    return short_name(book, found.words or text), ready


def _drawn(
    lab: Lab,
    graph: Graph,
    names: Sequence[str],
    loads: dict[str, Load],
    condition: Condition,
    *,
    strict: bool,
) -> tuple[list[Drawn], list[str]]:
    """The curves that can be had; with `strict` one that can't is an error, else a note."""
    drawn: list[Drawn] = []
    notes: list[str] = []
    marks: dict[str, list[str]] = {}
    for name in names:
        node = first_mounting(graph, name)
        try:
            mounted = load_fan(lab.path, result_of(lab, node))
            stated = (PUSH_PULL_SOURCE,) if condition.system.push_pull_u > 0.0 else ()
            shared = [source for load in loads.values() for source in load.sources]
            sources = tuple(dict.fromkeys((*mounted.characteristic.sources, *shared, *stated)))
            curve = curve_in(mounted, condition, Part.TOTAL, sources)
        except StillroomError as error:
            if strict:
                raise
            notes.append(f"Not drawn: {name} ({error.found or error.sentence()}).")
            continue
        drawn.append(Drawn(name, node, curve, sources))
        for mark in setting_marks(mounted, condition):
            marks.setdefault(mark, []).append(name)
    if not drawn:
        raise NotPossible(
            "curves", found="; ".join(notes) or "no fan", expected="a fan tested under this condition"
        )
    said = [f"{wording.sentence(mark).rstrip('.')}: {wording.listed(fans)}." for mark, fans in marks.items()]
    return drawn, notes + said


# --- words ------------------------------------------------------------------------------------------------


def _subtitle(condition: Condition, at: str, left: int, known: int, shown: int) -> str:
    modelled = ", ".join(system_marks(condition.system))
    parts = [
        f"Static pressure against airflow {at}, at {density_words(condition.system)}",
        modelled,
        f"{'its first mounting' if shown == 1 else 'first mounting of each'}, bands show 95 %",
        f"the first {wording.count(shown)} of {wording.count(known)} fans" if left else "",
    ]
    return "; ".join(each for each in parts if each)


def _title(drawn: Sequence[Drawn], loads: Sequence[str], told: Conditions) -> str:
    """What is shown, of whom and under what. No number: one mounting's is not the fan's."""
    whom, are_several = subject(drawn[0].name, told)
    if len(drawn) > 1:
        each = arrangement(told)
        whom, are_several = wording.plural(len(drawn), "fan") + (f", {each}," if each else ""), True
    move = "move" if are_several else "moves"
    what = f"{move} through {tiles_of(told)}{wording.listed(loads)}" if loads else "can do"
    air = air_phrase(told)
    return f"What {whom} {what} {speed_phrase(told)}" + (f", {air}" if air else "")


# --- series -----------------------------------------------------------------------------------------------


def _in(values: Array, unit: str) -> tuple[float, ...]:
    return tuple(round(from_si(float(each), unit), 6) for each in values)


def _curve(
    each: Drawn, units: tuple[str, str], accent: bool, measured: tuple[tuple[float, float], ...]
) -> Curve:
    """The central curve down to no pressure, with the band of its trials."""
    curve = each.curve
    low, high = coverage_interval(curve.pressure[1:], axis=0)
    shown = np.flatnonzero(curve.pressure[0] >= 0.0)[::STEP]
    end = int(np.argmax(curve.pressure[0] < 0.0)) if (curve.pressure[0] < 0.0).any() else None
    if end is not None:
        shown = np.append(shown[shown < end], end)
    return Curve(
        label=each.name,
        flow=_in(curve.flow[0][shown], units[0]),
        pressure=_in(np.maximum(curve.pressure[0][shown], 0.0), units[1]),
        low=_in(np.maximum(low[shown], 0.0), units[1]),
        high=_in(np.maximum(high[shown], 0.0), units[1]),
        measured=tuple((from_si(q, units[0]), from_si(p, units[1])) for q, p in measured),
        accent=accent,
    )


def _points(lab: Lab, each: Drawn, condition: Condition) -> tuple[tuple[float, float], ...]:
    """The points read at all speeds, brought to the curve's own: each as far from it as it was read [SI].

    None for a system that was modelled: nobody read it.
    """
    curve = each.curve
    if not condition.system.is_single:
        return ()
    phi = results.load_arrays(lab.path, each.node.key)["points_phi"]
    tip = np.pi * curve.fan.diameter * np.interp(phi, curve.phi, curve.speed[0])
    away = curve.fan.characteristic.residuals * (0.5 * curve.air.density) * tip**2
    flow = phi * disc_area(curve.fan.diameter) * tip
    pressure = np.interp(phi, curve.phi, curve.pressure[0]) + away
    return tuple((float(q), float(p)) for q, p in zip(flow, pressure, strict=True))
