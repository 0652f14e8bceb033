"""From the points of all sweeps of one mounting to a mounted fan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core import fanlaws
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Readings, fit_characteristic
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import normal_block
from stillroom.core.mounted import MountedFan, Polynomial, fit_polynomial, power_design
from stillroom.errors import NotPossible
from stillroom.methods.airflow.points import Points

VERSION = 1
"""Raised when the same readings would give other numbers."""

NOMINAL_SPEED = 1000.0 / 60.0
"""Speed written in for sweeps whose speed nobody read [1/s]; it cancels at full setting."""


@dataclass(frozen=True)
class SweepOfMounting:
    """One sweep with its setting (duty, volts or speed; None where nobody told)."""

    points: Points
    setting: float | None


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


def reduce_mounting(
    sweeps: Sequence[SweepOfMounting],
    *,
    diameter: float,
    identity: str,
    trials: int,
    full_setting: float | None = None,
) -> MountedFan:
    """Fit the characteristic, the speed at full setting and the power of one mounting.

    Parameters
    ----------
    sweeps : the sweeps, at least one. diameter : reference diameter D [m]; φ and ψ are formed with it.
    identity : of the mounting. trials : number of trials.
    full_setting : the fan's greatest setting over all its mountings; a mounting without a sweep at it has no
        speed at full setting. None where settings were not told: then the fastest sweep counts.

    Raises
    ------
    NotPossible : too few points that agree.
    Contradiction : sweeps that contradict each other with no majority.
    """
    sources = tuple(dict.fromkeys(source for each in sweeps for source in each.points.sources))
    parts = [dimensionless(each.points, diameter) for each in sweeps]
    readings = _readings(sweeps, parts, sources, identity)
    characteristic = fit_characteristic(readings, trials)
    kept = [i for i in range(len(sweeps)) if not _is_dropped(characteristic, i)]
    if not kept:
        raise NotPossible(f"mounting {identity}", found="no sweep that can be used", expected="one at least")
    speeds = [float(np.mean(_speed(sweeps[i]))) for i in kept]
    power, terms = _power(sweeps, parts, kept, max(speeds), characteristic)
    return MountedFan(
        characteristic=characteristic,
        diameter=diameter,
        speeds=(min(speeds), max(speeds)),
        full_speed=_full_speed(sweeps, parts, characteristic, full_setting),
        power=power,
        power_terms=terms,
    )


def _is_dropped(characteristic: Characteristic, sweep: int) -> bool:
    return any(each.dropped for each in characteristic.sweeps if each.sweep == sweep)


def _speed(sweep: SweepOfMounting) -> Array:
    rows = sweep.points.rows
    return rows["speed"][0] if "speed" in rows else np.full(rows["flow"].shape[1], NOMINAL_SPEED)


def _readings(
    sweeps: Sequence[SweepOfMounting],
    parts: Sequence[Dimensionless],
    sources: tuple[str, ...],
    identity: str,
) -> Readings:
    k = [len(each.points.sources) for each in sweeps]
    own_flow = [each.flow[1 + n :] - each.flow[0] for each, n in zip(parts, k, strict=True)]
    own_pressure = [each.pressure[1 + n :] - each.pressure[0] for each, n in zip(parts, k, strict=True)]
    return Readings(
        flow_coefficient=np.concatenate([each.flow[0] for each in parts]),
        pressure_coefficient=np.concatenate([each.pressure[0] for each in parts]),
        reynolds=np.concatenate([each.reynolds[0] for each in parts]),
        sweep=np.concatenate([np.full(each.flow.shape[1], i) for i, each in enumerate(parts)]).astype(
            np.intp
        ),
        shared_flow=_side_by_side(sweeps, [each.flow for each in parts], sources),
        shared_pressure=_side_by_side(sweeps, [each.pressure for each in parts], sources),
        own_flow=np.concatenate([np.sqrt((each**2).sum(axis=0)) for each in own_flow]),
        own_pressure=np.concatenate([np.sqrt((each**2).sum(axis=0)) for each in own_pressure]),
        own_covariance=np.concatenate(
            [(q * p).sum(axis=0) for q, p in zip(own_flow, own_pressure, strict=True)]
        ),
        sources=sources,
        identity=identity,
    )


def _side_by_side(
    sweeps: Sequence[SweepOfMounting], rows: Sequence[Array], sources: tuple[str, ...]
) -> Array:
    """Effects of the shared sources on the points of all sweeps, (k, n)."""
    aligned = [
        align(each[1 : 1 + len(sweep.points.sources)] - each[0], sweep.points.sources, sources)
        for sweep, each in zip(sweeps, rows, strict=True)
    ]
    return np.concatenate(aligned, axis=1)


def _full_speed(
    sweeps: Sequence[SweepOfMounting],
    parts: Sequence[Dimensionless],
    characteristic: Characteristic,
    full_setting: float | None,
) -> Polynomial | None:
    """Speed against φ of the sweep at full setting; None where there is none, or it was dropped."""
    settings = [float(np.mean(_speed(each))) if each.setting is None else each.setting for each in sweeps]
    top = int(np.argmax(settings))
    untold = sweeps[top].setting is None
    short = full_setting is not None and (untold or settings[top] < 0.99 * full_setting)
    if short or _is_dropped(characteristic, top):
        return None
    points, phi = sweeps[top].points, parts[top].flow[0]
    speed = _speed(sweeps[top])
    read = "speed" in points.rows
    own = points.own_effects("speed") if read else np.zeros((1, len(phi)))
    terms = 3 if len(phi) >= 5 else 1
    draws = normal_block(f"{characteristic.identity}/full speed", len(phi), characteristic.trials)
    fitted = fit_polynomial(
        np.stack([np.ones_like(phi), phi, phi**2][:terms], axis=1),
        speed,
        shared=points.shared("speed") if read else np.zeros((len(points.sources), len(phi))),
        own=np.sqrt((own**2).sum(axis=0)),
        draws=draws,
        sources=points.sources,
    )
    return fitted.padded(3)


def _power(
    sweeps: Sequence[SweepOfMounting],
    parts: Sequence[Dimensionless],
    kept: Sequence[int],
    reference: float,
    characteristic: Characteristic,
) -> tuple[Polynomial | None, int]:
    """Electrical power of the sweeps that were kept, by `power_design`; None where it was not read."""
    used = [i for i in kept if "power" in sweeps[i].points.rows]
    if not used:
        return None, 0
    chosen = [sweeps[i] for i in used]
    sources = tuple(dict.fromkeys(source for each in chosen for source in each.points.sources))
    phi = np.concatenate([parts[i].flow[0] for i in used])
    ratio = np.concatenate([each.points.rows["density"][0] for each in chosen]) / fanlaws.STANDARD_DENSITY
    terms = min(5, 2 + len(used)) if len(phi) > 8 else 1
    design = power_design(np.concatenate([_speed(each) for each in chosen]), phi, ratio, reference)
    own = [(each.points.own_effects("power") ** 2).sum(axis=0) for each in chosen]
    fitted = fit_polynomial(
        np.stack(design[:terms], axis=1),
        np.concatenate([each.points.rows["power"][0] for each in chosen]),
        shared=_side_by_side(chosen, [each.points.rows["power"] for each in chosen], sources),
        own=np.sqrt(np.concatenate(own)),
        draws=normal_block(f"{characteristic.identity}/power", len(phi), characteristic.trials),
        sources=sources,
    )
    return fitted, terms
