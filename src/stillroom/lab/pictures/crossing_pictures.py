"""Where fans meet load lines, as marks of a chart: one value, a range, every crossing, and a key of numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom import wording
from stillroom.charts.series import LoadLine, OperatingMark
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve
from stillroom.core.operating import operating_points
from stillroom.core.systems import Load
from stillroom.errors import NotPossible
from stillroom.measures.crossing import Crossing, crossing
from stillroom.vocabulary import from_si

Line = tuple[str, Curve, tuple[str, ...]]
"""A fan's name, its curve, and the shared sources of its rows."""


@dataclass(frozen=True)
class Met:
    """A fan on a load: its mark, or why there is none."""

    fan: str
    load: str
    mark: OperatingMark | None
    why: str = ""


def marks_of(lines: Sequence[Line], words: str, load: Load, units: tuple[str, str], accent: str) -> list[Met]:
    """The operating points of fans on one load, the greatest flow first, numbered where there are several fans."""
    found = [_met(line, words, load, units, line[0] == accent) for line in lines]
    return sorted(found, key=lambda each: -(each.mark.flow if each.mark else 0.0))


def _met(line: Line, words: str, load: Load, units: tuple[str, str], accent: bool) -> Met:
    name, curve, sources = line
    try:
        found = crossing(curve, load, sources, Part.TOTAL)
    except NotPossible as error:
        return Met(name, words, None, error.found or error.sentence())
    return Met(name, words, _mark(name, curve, sources, words, load, found, units, accent))


def _mark(
    name: str,
    curve: Curve,
    sources: tuple[str, ...],
    words: str,
    load: Load,
    found: Crossing,
    units: tuple[str, str],
    accent: bool,
) -> OperatingMark:
    flow = curve.flow_at(found.chosen)
    low, high = _ends(curve, found, len(sources))
    value = from_si(float(flow[0]), units[0])
    ends = from_si(low, units[0]), from_si(high, units[0])
    unit = units[0]
    single = wording.with_unit(wording.rounded(value, *ends), unit)
    said = {
        wording.NOT_UNIQUE_WORD: not found.unique and not found.hysteresis,
        "sweeps up and down differ": found.hysteresis,
        "extrapolated": found.extrapolated,
        "on a rising branch": found.rising,
    }
    return OperatingMark(
        label=single if found.unique else wording.spread(*ends, unit),
        flow=value,
        pressure=from_si(float(np.interp(found.chosen[0], curve.phi, curve.pressure[0])), units[1]),
        flow_low=ends[0],
        flow_high=ends[1],
        is_unique=found.unique,
        word=", ".join(word for word, applies in said.items() if applies),
        curve=name,
        load=words,
        accent=accent,
        crossings=() if found.unique else _crossings(curve, load, units),
    )


def _ends(curve: Curve, found: Crossing, sources: int) -> tuple[float, float]:
    """The 95 % interval of the flow; where it isn't unique, from the low end of the least crossing to the high
    end of the greatest [m³/s].
    """
    low, _ = coverage_interval(curve.flow_at(found.lowest)[1 + sources :])
    _, high = coverage_interval(curve.flow_at(found.highest)[1 + sources :])
    return float(low), float(high)


def _crossings(curve: Curve, load: Load, units: tuple[str, str]) -> tuple[tuple[float, float, bool], ...]:
    """Every crossing of the central curve, with whether it is stable."""
    drop = load.drop(curve.flow[:1], Part.CENTRAL, ())
    found = operating_points(curve.phi, curve.pressure[:1], drop)
    flows = np.interp(found.central, curve.phi, curve.flow[0])
    pressures = np.interp(found.central, curve.phi, curve.pressure[0])
    return tuple(
        (from_si(float(q), units[0]), from_si(float(p), units[1]), bool(stable))
        for q, p, stable in zip(flows, pressures, found.central_stable, strict=True)
    )


def numbered(met: Sequence[Met]) -> list[Met]:
    """The same with numbers from 1 on, load by load, where several fans are drawn."""
    if len({each.fan for each in met}) < 2:
        return list(met)
    made, number = [], 0
    for each in met:
        number += each.mark is not None
        made.append(each if each.mark is None else replace(each, mark=replace(each.mark, number=number)))
    return made


def key_of_points(met: Sequence[Met], unit: str) -> list[str]:
    """One line a load: what each number is; and the fans that don't meet it."""
    lines = []
    for load in dict.fromkeys(each.load for each in met):
        here = [each for each in met if each.load == load]
        said = [
            f"{each.mark.number}{wording.NO_BREAK}{each.fan} {each.mark.label.removesuffix(wording.NO_BREAK + unit)}"
            + (f" ({each.mark.word})" if each.mark.word else "")
            for each in here
            if each.mark is not None and each.mark.number
        ]
        if said:
            lines.append(f"Through {load}, {unit}: {', '.join(said)}.")
        lines += [f"{each.fan} does not meet {load}: {each.why}." for each in here if each.mark is None]
    return lines


def load_line(words: str, load: Load, reach: float, top: float, units: tuple[str, str]) -> LoadLine:
    """A load's pressure drop up to a flow `reach` [m³/s] or a little above a pressure `top` [Pa]."""
    flow = np.linspace(0.0, reach, 160)
    drop = load.drop(flow, Part.CENTRAL, ())[0]
    inside = np.flatnonzero(drop <= top * 1.02)
    if len(inside) < 2:
        flow = np.linspace(0.0, _flow_at(flow, drop, top), 40)
        drop = load.drop(flow, Part.CENTRAL, ())[0]
        inside = np.arange(len(flow))
    return LoadLine(words, _in(flow[inside], units[0]), _in(drop[inside], units[1]))


def _flow_at(flow: Array, drop: Array, top: float) -> float:
    """The flow at which a steep load reaches a pressure."""
    return float(np.interp(top, drop, flow))


def _in(values: Array, unit: str) -> tuple[float, ...]:
    return tuple(round(from_si(float(each), unit), 6) for each in values)
