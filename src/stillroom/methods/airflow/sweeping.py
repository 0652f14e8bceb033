"""What the sweeps of one mounting say besides the characteristic: speeds by setting, and hysteresis."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core import fanlaws
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic
from stillroom.core.mounted import Hysteresis
from stillroom.core.speeds import WORDS, SettingReadings, SettingSpeeds, fit_settings
from stillroom.methods.airflow.points import Points

NOMINAL_SPEED = 1000.0 / 60.0
"""Speed written in for sweeps whose speed nobody read [1/s]; it cancels at full setting."""

UP, DOWN = "up", "down"
ABSCISSAS = 60
CLEAR = 3.0
"""Sweeps up and down differ where they do so by more than this many standard deviations (our choice) …"""

LEAST = 0.015
"""… and by more than this share of the greatest pressure [1] (our choice)."""


@dataclass(frozen=True)
class SweepOfMounting:
    """One sweep with its setting.

    Parameters
    ----------
    points : reduced. setting : duty [1], volts [V] or speed [1/s]; None where nobody told.
    kind : "duty", "volts" or "speed"; "" where nobody told. direction : of the flow, "up", "down" or "".
    """

    points: Points
    setting: float | None
    kind: str = ""
    direction: str = ""

    @property
    def speed(self) -> Array:
        """Speed of each point [1/s], the nominal one where none was read."""
        rows = self.points.rows
        return rows["speed"][0] if "speed" in rows else np.full(rows["flow"].shape[1], NOMINAL_SPEED)


@dataclass(frozen=True)
class Dimensionless:
    """Points of one sweep in φ, ψ and Re, in all rows of `Points`."""

    flow: Array
    pressure: Array
    reynolds: Array


def dimensionless(points: Points, diameter: float) -> Dimensionless:
    """φ, ψ and Re of each point in each row; each point with its own speed and density."""
    rows = points.rows
    speed = rows.get("speed", np.full_like(rows["flow"], NOMINAL_SPEED))
    return Dimensionless(
        fanlaws.flow_coefficient(rows["flow"], speed, diameter),
        fanlaws.pressure_coefficient(rows["pressure"], speed, diameter, rows["density"]),
        fanlaws.reynolds(speed, diameter, rows["density"], rows["viscosity"]),
    )


def setting_speeds(
    sweeps: Sequence[SweepOfMounting], parts: Sequence[Dimensionless], kept: Sequence[int], identity: str
) -> tuple[SettingSpeeds, ...]:
    """The speed against φ at each duty and voltage whose speed was read; sweeps at one setting count together."""
    groups: dict[tuple[str, float], list[int]] = defaultdict(list)
    for i in kept:
        each = sweeps[i]
        if each.kind in WORDS and each.setting is not None and "speed" in each.points.rows:
            groups[each.kind, round(each.setting, 6)].append(i)
    found: dict[str, list[SettingReadings]] = defaultdict(list)
    for (kind, value), members in groups.items():
        found[kind].append(_tested(kind, value, [(sweeps[i].points, parts[i].flow[0]) for i in members]))
    return tuple(fit_settings(kind, tested, identity) for kind, tested in sorted(found.items()))


def _tested(kind: str, value: float, members: Sequence[tuple[Points, Array]]) -> SettingReadings:
    sources = dict.fromkeys(source for points, _ in members for source in points.sources)
    shared = {
        source: np.concatenate([_effect(points, source) for points, _ in members]) for source in sources
    }
    own = [np.sqrt((points.own_effects("speed") ** 2).sum(axis=0)) for points, _ in members]
    return SettingReadings(
        kind,
        value,
        np.concatenate([phi for _, phi in members]),
        np.concatenate([points.rows["speed"][0] for points, _ in members]),
        {source: effect for source, effect in shared.items() if effect.any()},
        np.concatenate(own),
    )


def _effect(points: Points, source: str) -> Array:
    """What one source does to the speeds read, (n,)."""
    if source not in points.sources:
        return np.zeros(points.rows["flow"].shape[1])
    return np.asarray(points.shared("speed")[points.sources.index(source)])


def hysteresis(
    sweeps: Sequence[SweepOfMounting],
    parts: Sequence[Dimensionless],
    kept: Sequence[int],
    characteristic: Characteristic,
) -> Hysteresis | None:
    """Where sweeps up and down at one setting differ by more than their own errors allow; None where nowhere.

    Both kinds go into the one curve, which is their mean; here stands half of what they differ by, as a mean
    over the settings at which both were swept.
    """
    starts = np.cumsum([0, *(each.flow.shape[1] for each in parts)])
    pairs: dict[tuple[str, float | None], dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for i in kept:
        if sweeps[i].direction in (UP, DOWN) and sweeps[i].setting is not None:
            pairs[sweeps[i].kind, sweeps[i].setting][sweeps[i].direction].append(i)
    both = [(up, down) for each in pairs.values() for up in each[UP][:1] for down in each[DOWN][:1]]
    if not both:
        return None
    phi = np.linspace(*characteristic.reach, ABSCISSAS)
    halves = np.full((len(both), ABSCISSAS), np.nan)
    sd = np.full(halves.shape, np.nan)
    for row, (up, down) in enumerate(both):
        lines = []
        for i in (up, down):
            order = np.argsort(parts[i].flow[0])
            residual = characteristic.residuals[starts[i] : starts[i + 1]][order]
            own = np.sqrt(((parts[i].pressure - parts[i].pressure[0])[_own(sweeps[i])] ** 2).sum(axis=0))[
                order
            ]
            at = parts[i].flow[0][order]
            lines.append((np.interp(phi, at, residual), np.interp(phi, at, own)))
        halves[row] = (lines[0][0] - lines[1][0]) / 2.0
        sd[row] = np.hypot(lines[0][1], lines[1][1]) / 2.0
    half = halves.mean(axis=0)
    error = np.sqrt((sd**2).sum(axis=0)) / len(both)
    top = float(np.max(parts[both[0][0]].pressure[0]))
    clear = np.abs(half) > np.maximum(CLEAR * error, LEAST * top)
    clear &= np.convolve(clear, [1, 1, 1], mode="same") >= 2  # a single abscissa is a single reading
    if not clear.any():
        return None
    return Hysteresis(phi, np.where(clear, half, 0.0))


def _own(sweep: SweepOfMounting) -> slice:
    """The rows of `Points` that are moved by own errors."""
    return slice(1 + len(sweep.points.sources), None)
