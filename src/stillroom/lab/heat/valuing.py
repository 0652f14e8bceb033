"""A measure of heat of one mounting at a setting, a speed or a noise limit, with its errors by kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stillroom.compare.candidates import How
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.combine import MountingResult
from stillroom.core.draws import normal_draws
from stillroom.core.heat.heat_curve import HeatCurve
from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.core.row_speeds import RowSpeeds
from stillroom.errors import NotPossible
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.heat.places import Place, measured_words, place_of
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.measures import Condition
from stillroom.measures.heat import CONDUCTANCE, HEAT, HEAT_POWER

POWER_BESIDE = 0.03
"""How far beyond the speeds measured a fan's power is still told [1]: it goes with about the cube of the speed."""


@dataclass(frozen=True)
class Warmed:
    """One mounting's heat, with its node."""

    node: HeatNode
    heat: HeatMounting


@dataclass(frozen=True)
class HeatValue:
    """A measure of heat in one mounting.

    Parameters
    ----------
    result : value and trials, as mountings are combined. how : by which way it is known. marks : beside it.
    speed : at which it was taken [1/s]; None where nobody read it. is_bound : whether the fan may turn faster.
    """

    result: MountingResult
    how: How
    marks: tuple[str, ...]
    speed: float | None
    is_bound: bool = False


@dataclass(frozen=True)
class Rows:
    """A value in every row: of all errors and of those that are shared, (1 + k + M,), for k sources."""

    total: Array
    shared: Array
    sources: tuple[str, ...]

    def result(self, node: HeatNode) -> MountingResult:
        """As mountings are combined."""
        k, value = len(self.sources), float(self.total[0])
        return MountingResult(
            sample=f"{node.fan}/{node.sample}",
            mounting=node.subject,
            value=value,
            shared_trials=self.shared[1 + k :],
            noise_trials=self.total[1 + k :] - self.shared[1 + k :],
            loadings={name: float(self.total[1 + i]) - value for i, name in enumerate(self.sources)},
        )


def heat_value(
    warmed: Warmed,
    measure: str,
    condition: Condition,
    limit: RowSpeeds | None = None,
    full: RowSpeeds | None = None,
) -> HeatValue:
    """A measure of one mounting under a condition.

    Parameters
    ----------
    measure : of the measures of heat. limit : the speeds that a noise limit allows the fan. full : its full speed
        by its airflow, as of `place_of`.

    Raises
    ------
    NotPossible : a setting or speed outside those run, no result, or no power read.
    """
    heat = warmed.heat
    place = place_of(heat, condition, limit, full)
    rows = _TAKEN[measure](warmed, place)
    how, said = place.told(heat)
    marks = (*place.marks, *said, *heat.marks, *(mark for step in place.steps for mark in step.marks))
    return HeatValue(
        rows.result(warmed.node), how, tuple(dict.fromkeys(marks)), place.speed, place.is_heard_short
    )


def _rise(warmed: Warmed, place: Place) -> Rows:
    """ΔT at nominal power [K]."""
    heat, curve = warmed.heat, warmed.heat.curve
    if place.speed is None or curve is None:
        return _of_steps(warmed, place)
    if place.rows is not None:
        sources = tuple(dict.fromkeys((*curve.sources, *place.rows.sources)))
        total, shared = (curve.rows(part, sources, place.rows)[:, 0] for part in (Part.TOTAL, Part.SHARED))
        return Rows(total, shared, sources)
    at = np.array([place.speed])
    if curve.reach[0] <= place.speed <= curve.reach[1]:
        total, shared = (curve.rows(part, curve.sources, at)[:, 0] for part in (Part.TOTAL, Part.SHARED))
        return Rows(total, shared, curve.sources)
    raise NotPossible(
        f"temperature rise at {speed_in_words(place.speed)}",
        found=measured_words(heat),
        expected=f"a speed from {curve.reach[0] * 60:,.0f} to {speed_in_words(curve.reach[1])}",
    )


def _of_steps(warmed: Warmed, place: Place) -> Rows:
    """The mean of the steps at one setting whose speed nobody read.

    Raises
    ------
    NotPossible : a condition that needs a speed.
    """
    heat, node = warmed.heat, warmed.node
    if place.rows is not None or not place.steps:
        raise NotPossible(
            "heat at a speed", found="steps without a speed", expected="a tachometer channel, or a speed told"
        )
    value = float(np.mean([each.delta_nominal for each in place.steps]))
    own = float(np.sqrt(np.sum([each.u_own**2 for each in place.steps]))) / len(place.steps)
    effects = dict(sorted((heat.sources or {}).items()))
    shared = np.full(node.trials, value)
    for name, effect in effects.items():
        shared += effect * normal_draws(name, node.trials)
    fixed = np.array([value, *(value + effect for effect in effects.values())])
    noise = own * normal_draws(f"heat/{node.subject}", node.trials)
    return Rows(np.concatenate([fixed, shared + noise]), np.concatenate([fixed, shared]), tuple(effects))


def _conductance(warmed: Warmed, place: Place) -> Rows:
    """G = P/ΔT at nominal power [W/K]."""
    rise = _rise(warmed, place)
    nominal = warmed.heat.nominal
    return Rows(nominal / rise.total, nominal / rise.shared, rise.sources)


def _power(warmed: Warmed, place: Place) -> Rows:
    """Electrical power of the fans [W]: of the steps there, else between steps on straight lines of ln P, ln N.

    Its own errors are left to the spread between mountings; those of a noise limit's speed go over by the slope.
    """
    told = [each.fan_power for each in place.steps if each.fan_power is not None]
    trials = warmed.node.trials
    rows, sources = place.rows, place.rows.sources if place.rows else ()
    if rows is None and told:
        values = np.full(1 + trials, float(np.mean(told)))
        return Rows(values, values, ())
    pairs = sorted(
        (each.speed, each.fan_power)
        for each in warmed.heat.results
        if each.speed is not None and each.fan_power is not None and each.fan_power > 0.0
    )
    if not pairs:
        raise NotPossible(
            "power of the fans",
            found="no volts and amps of them",
            expected="a channel of each, or of their watts",
        )
    speeds, powers = np.array(pairs).T
    at = rows.speeds if rows is not None else np.full(1 + trials, place.speed or np.nan)
    central = float(at[0])
    if not speeds[0] * (1.0 - POWER_BESIDE) <= central <= speeds[-1] * (1.0 + POWER_BESIDE):
        span = f"from {speeds[0] * 60:,.0f} to {speed_in_words(float(speeds[-1]))}"
        raise NotPossible(
            f"power at {speed_in_words(central)}",
            found=f"power read {span}, not at {speed_in_words(central)}",
            expected="a speed within these",
        )
    values = np.exp(_along(np.log(speeds), np.log(powers), np.log(at)))
    return Rows(values, values, sources)


CUBE = 2.8
"""Exponent of a fan's power against its speed where one speed alone was read [1] (common practice: 2.6 to 3)."""

SAME_SPEED = 0.01
"""Speeds nearer than this to the one before are one setting run again [1]: no slope is taken between them."""


def _along(x: Array, y: Array, at: Array) -> Array:
    """On straight lines between points, gone on with beyond the ends; through one point with the exponent `CUBE`.

    Parameters
    ----------
    x, y : ln N, rising, and ln P of the points; those of one speed count as their mean. at : ln N asked for.
    """
    group = np.cumsum(np.diff(x, prepend=x[0]) > SAME_SPEED)
    x, y = (np.bincount(group, weights=each) / np.bincount(group) for each in (x, y))
    if len(x) == 1:
        return np.asarray(y[0] + CUBE * (at - x[0]))
    i = np.clip(np.searchsorted(x, at) - 1, 0, len(x) - 2)
    slopes = np.diff(y) / np.diff(x)
    return np.asarray(y[i] + slopes[i] * (at - x[i]))


_TAKEN: dict[str, Callable[[Warmed, Place], Rows]] = {
    HEAT: _rise,
    CONDUCTANCE: _conductance,
    HEAT_POWER: _power,
}


def curve_of(heat: HeatMounting) -> HeatCurve:
    """The curve against speed of a mounting.

    Raises
    ------
    NotPossible : it has none.
    """
    if heat.curve is None:
        raise NotPossible("heat at a speed", found="steps without a speed", expected="a tachometer channel")
    return heat.curve
