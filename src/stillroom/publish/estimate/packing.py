"""What was gathered, as the one object that a page reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.resistance import Law
from stillroom.publish.estimate import columns as code
from stillroom.publish.estimate.columns import packed
from stillroom.publish.estimate.components import Components, components_of
from stillroom.publish.estimate.critical import CORRELATIONS, COUNTS, best_table, rank_table
from stillroom.publish.estimate.flows import FlowTable
from stillroom.publish.estimate.full_speeds import FullSpeed
from stillroom.publish.estimate.gathering import Gathered
from stillroom.publish.estimate.loads import OPENINGS, SHARES, openings, rough
from stillroom.publish.estimate.obstacles import Obstacle
from stillroom.publish.estimate.several import KNOTS
from stillroom.publish.estimate.speeds import SpeedTable
from stillroom.publish.estimate.spread_kinds import SpreadKind

FORMAT = "stillroom/estimate/1"
"""Name and version of what a page reads; the number rises when a field changes its meaning or goes."""

TYPICAL = 0.4
"""Where in the flows read the errors of an obstacle count for the choice of components [1]."""

Json = dict[str, Any]


class Words:
    """Each text once, told by its place."""

    def __init__(self) -> None:
        self._place: dict[str, int] = {}

    def at(self, text: str) -> int:
        """The place of a text."""
        return self._place.setdefault(text, len(self._place))

    def all(self, texts: Sequence[str]) -> list[int]:
        """The places of several."""
        return [self.at(each) for each in texts]

    @property
    def list(self) -> list[str]:
        """All texts in order."""
        return list(self._place)


def packed_tables(found: Gathered, words: Words) -> Json:
    """The tables of all fans, the obstacles, spreads and critical values."""
    mounted = list(
        dict.fromkeys(["", *(name for fan in found.fans for name in (*fan.airflow, *fan.no_airflow))])
    )
    heard = list(dict.fromkeys(["", *(name for fan in found.fans for name in fan.sound)]))
    parts = _components(found)
    return {
        "format": FORMAT,
        "grid": {"openings": OPENINGS, "shares": SHARES, "rough": openings()[1:][rough()].tolist(),
                 "components": parts.directions.shape[1], "bandKnots": KNOTS},
        "mounted": mounted,
        "heard": heard,
        "obstacles": [_obstacle(each, parts, mounted) for each in found.obstacles],
        "kinds": [_kind(each) for each in found.kinds],
        "critical": {"counts": COUNTS, "correlations": CORRELATIONS, "best": best_table().round(4).tolist(),
                     "ranks": rank_table().round(4).tolist()},
        "airflow": _airflow(found, parts, mounted, words),
        "sound": _sound(found, heard, words),
    }  # fmt: skip


def _components(found: Gathered) -> Components:
    rows: list[tuple[Sequence[str], Array]] = []
    for fan in found.fans:
        for each in fan.airflow.values():
            table = each.table
            rows.append((table.sources, table.loadings.reshape(-1, len(table.sources))))
            if table.full is not None:
                rows.append((table.sources, table.full.loadings[None, :]))
    for one in found.obstacles:
        if one.resistance is not None:
            told = one.resistance.relative(TYPICAL * one.resistance.reach)
            rows.append((one.resistance.sources, told[None, :]))
    return components_of(rows)


def _kind(kind: SpreadKind) -> Json:
    return {"mounting": kind.spreads.mounting.sd, "mountingFactor": kind.mounting_factor, "mountingT": kind.mounting_t,
            "sampleFactor": kind.sample_factor, "sampleT": kind.sample_t}  # fmt: skip


def _obstacle(each: Obstacle, parts: Components, mounted: Sequence[str]) -> Json:
    told: Json = {"name": each.name, "words": each.words, "mounted": mounted.index(each.through.mounted)}
    resistance = each.resistance
    if resistance is None:
        return {**told, "a": None, "b": None, "how": "measured with it mounted"}
    a, b = resistance.linear_quadratic
    power = resistance.central.tolist() if resistance.law is Law.POWER else None
    effects = np.concatenate([parts.of(resistance.sources, resistance.effects.T), resistance.own.T], axis=1)
    return {**told, "a": a, "b": b, "how": "by its own resistance", "power": power, "reach": resistance.reach,
            "effects": effects.tolist()}  # fmt: skip


def _airflow(found: Gathered, parts: Components, mounted: Sequence[str], words: Words) -> Json:
    records = [(at, mounted.index(name), each) for at, fan in enumerate(found.fans)
               for name, each in fan.airflow.items()]  # fmt: skip
    tables = [each.table for _, _, each in records]
    gone = [[at, mounted.index(name), words.at(why)] for at, fan in enumerate(found.fans)
            for name, why in fan.no_airflow.items()]  # fmt: skip
    several = [(at, each.several) for at, each in enumerate(tables) if each.several is not None]
    columns, scales = _flow_columns(tables, parts)
    columns["bridged"] = packed("bridged", code.SMALL, np.array([each.bridged for _, _, each in records]))
    columns["samples"] = packed("samples", code.SMALL, np.array([each.own_samples for _, _, each in records]))
    for name in ("low", "high", "deep", "rise"):
        ends = np.array([np.abs(np.log(getattr(each, name))) for _, each in several])
        columns[name] = packed(name, code.SMALL, code.SMALL.held(ends))
    columns["edges"] = packed("edges", code.OPENING, np.array([each.edges for _, each in several]))
    columns["sides"] = packed("sides", code.WHOLE, np.array([each.sides for _, each in several]))
    columns["jump"] = packed("jump", code.OPENING, np.array([each.jump for _, each in several]))
    missing = [
        [at, *map(int, np.flatnonzero(each.missing.T))]
        for at, each in enumerate(tables)
        if each.missing.any()
    ]
    return {
        "fan": [at for at, _, _ in records],
        "mounted": [way for _, way, _ in records],
        "marks": [words.all(each.marks) for _, _, each in records],
        "counts": [list(each.counts) for each in tables],
        "topIsFull": [int(each.greatest_is_full) for each in tables],
        "gone": gone,
        "several": [at for at, _ in several],
        "missing": missing,
        "scales": scales,
        "columns": columns,
    }


def _flow_columns(tables: Sequence[FlowTable], parts: Components) -> tuple[Json, list[float]]:
    """The columns of tables of airflow, and the scales of the components of their loadings."""
    smooth = code.Coding(code.FACTOR.low, code.FACTOR.step, code.FACTOR.bits, row=OPENINGS)
    bent = code.Coding(code.EXPONENT.low, code.EXPONENT.step, row=OPENINGS)
    numbers = np.array(
        [[each.flow_scale, each.pressure_scale, each.speed, *each.speeds, each.reach] for each in tables]
    )
    full = np.array([_full_at(each.full) for each in tables])
    loadings = np.array([parts.of(each.sources, each.loadings) for each in tables])  # (fans, 2, ROUGH, C)
    of_full = np.array([_full_loadings(each, parts) for each in tables])
    count = parts.directions.shape[1]
    every = np.concatenate([loadings.reshape(-1, count), of_full.reshape(-1, count)])
    scales = np.maximum(np.abs(every).max(axis=0, initial=0.0), 1e-9) / 127.0
    at = rough() + 1
    readings = np.array([[each.sd[at], each.down[at], each.up[at]] for each in tables])
    columns = {
        "numbers": packed("numbers", code.SCALE, numbers.T),
        "full": packed("full", code.SCALE, full.T),
        "ratios": packed("ratios", code.RATIO, _joined([_ratios(each) for each in tables])),
        "each": packed(
            "each", code.TESTED, _joined([code.TESTED.held(each.each_speeds).ravel() for each in tables])
        ),
        "factor": packed("factor", smooth, np.array([code.FACTOR.held(each.factor).T for each in tables])),
        "exponent": packed(
            "exponent", bent, np.array([code.EXPONENT.held(each.exponent).T for each in tables])
        ),
        "readings": packed("readings", code.SMALL, code.SMALL.held(np.moveaxis(readings, 0, 1))),
        "loadings": packed("loadings", code.SIGNED, np.moveaxis(loadings / scales, -1, 0)),
        "fullLoadings": packed("fullLoadings", code.SIGNED, np.moveaxis(of_full / scales, -1, 0)),
        "fullSd": packed(
            "fullSd", code.SMALL, np.array([each.full.sd if each.full else 0.0 for each in tables])
        ),
    }
    return columns, scales.tolist()


def _full_at(full: FullSpeed | None) -> Array:
    """The speed at full setting at t = 0, 1/2 and 1 [1/s]; noughts where it isn't known."""
    return (
        np.zeros(3)
        if full is None
        else np.array([full.coefficients @ at ** np.arange(3) for at in (0.0, 0.5, 1.0)])
    )


def _full_loadings(table: FlowTable, parts: Components) -> Array:
    return (
        np.zeros(parts.directions.shape[1])
        if table.full is None
        else parts.of(table.sources, table.full.loadings)
    )


def _ratios(table: FlowTable) -> Array:
    """The speed at full setting of each mounting to the mean of all [1]."""
    return np.ones(sum(table.counts)) if table.full is None else code.RATIO.held(table.full.ratios)


def _joined(parts: Sequence[Array]) -> Array:
    return np.concatenate([np.zeros(0), *parts])


def _sound(found: Gathered, heard: Sequence[str], words: Words) -> Json:
    records = [(at, heard.index(name), fan.sound_marks[name], each) for at, fan in enumerate(found.fans)
               for name, each in fan.sound.items()]  # fmt: skip
    tables = [each for _, _, _, each in records]
    sources = list(dict.fromkeys(name for each in tables for name in each.sources))
    place = {name: at for at, name in enumerate(sources)}
    return {
        "fan": [at for at, _, _, _ in records],
        "heard": [way for _, way, _, _ in records],
        "marks": [words.all(marks) for _, _, marks, _ in records],
        "loud": [words.at(each.loud) for each in tables],
        "topping": [words.at(each.topping) for each in tables],
        "knots": [len(each.limits) for each in tables],
        "sources": [[place[name] for name in each.sources] for each in tables],
        "gone": {str(at): words.at(fan.no_sound) for at, fan in enumerate(found.fans) if fan.no_sound},
        "columns": _speed_columns(tables),
    }


def _speed_columns(tables: Sequence[SpeedTable]) -> Json:
    small = code.SMALL
    return {
        "limits": packed("limits", code.LEVEL, _joined([each.limits for each in tables])),
        "speed": packed("speed", code.SPEED, _joined([each.speed for each in tables])),
        "down": packed("down", small, small.held(_joined([np.log(each.speed / each.low) for each in tables]))),
        "up": packed("up", small, small.held(_joined([np.log(each.high / each.speed) for each in tables]))),
        "sd": packed("sd", small, small.held(_joined([each.sd for each in tables]))),
        "own": packed("own", code.SHARE, _joined([each.own for each in tables])),
        "flags": packed("flags", code.WHOLE, _joined([each.flags.astype(np.float64) for each in tables])),
        "effects": packed("effects", code.SIGNED, _joined([_direction(each.effects) for each in tables])),
    }  # fmt: skip


def _direction(effects: Array) -> Array:
    """Effects as parts of a direction, the greatest possible 127."""
    size = float(np.sqrt(np.sum(effects**2)))
    return 127.0 * effects / size if size > 0.0 else np.zeros_like(effects)
