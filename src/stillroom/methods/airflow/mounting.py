"""From the points of all sweeps of one mounting to a mounted fan."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.core import fanlaws
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic, Readings, fit_characteristic
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import normal_block
from stillroom.core.mounted import MountedFan, Polynomial, fit_polynomial, power_design
from stillroom.errors import NotPossible
from stillroom.methods.airflow.sweeping import (
    Dimensionless,
    SweepOfMounting,
    dimensionless,
    hysteresis,
    setting_speeds,
)

__all__ = ["KINDS", "VERSION", "SweepOfMounting", "dimensionless", "reduce_mounting"]

VERSION = 4
"""Raised when the same readings would give other numbers."""

KINDS = ("duty", "volts", "speed")
"""The kinds of setting, the one first by which full setting is told where a mounting has several."""


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
    speeds = [float(np.mean(sweeps[i].speed)) for i in kept]
    power, terms = _power(sweeps, parts, kept, max(speeds), characteristic)
    return MountedFan(
        characteristic=characteristic,
        diameter=diameter,
        speeds=(min(speeds), max(speeds)),
        full_speed=_full_speed(sweeps, parts, characteristic, full_setting),
        power=power,
        power_terms=terms,
        settings=setting_speeds(sweeps, parts, kept, identity),
        hysteresis=hysteresis(sweeps, parts, kept, characteristic),
    )


def _is_dropped(characteristic: Characteristic, sweep: int) -> bool:
    return any(each.dropped for each in characteristic.sweeps if each.sweep == sweep)


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
    """Speed against φ of the sweeps at full setting; None where there is none, or all were dropped."""
    kind = next((each for each in KINDS if any(sweep.kind == each for sweep in sweeps)), "")
    settings = [
        float(np.mean(each.speed)) if each.setting is None else each.setting if each.kind == kind else 0.0
        for each in sweeps
    ]
    top = int(np.argmax(settings))
    untold = sweeps[top].setting is None
    short = full_setting is not None and (untold or settings[top] < 0.99 * full_setting)
    same = [top] if untold else [i for i, each in enumerate(settings) if each == settings[top]]
    used = [i for i in same if not _is_dropped(characteristic, i)]
    if short or not used:
        return None
    chosen = [sweeps[i] for i in used]
    phi = np.concatenate([parts[i].flow[0] for i in used])
    read = all("speed" in each.points.rows for each in chosen)
    sources = tuple(dict.fromkeys(source for each in chosen for source in each.points.sources))
    own = [(each.points.own_effects("speed") ** 2).sum(axis=0) for each in chosen] if read else []
    terms = 3 if len(phi) >= 5 else 1
    fitted = fit_polynomial(
        np.stack([np.ones_like(phi), phi, phi**2][:terms], axis=1),
        np.concatenate([each.speed for each in chosen]),
        shared=_side_by_side(chosen, [each.points.rows["speed"] for each in chosen], sources)
        if read
        else np.zeros((len(sources), len(phi))),
        own=np.sqrt(np.concatenate(own)) if read else np.zeros(len(phi)),
        draws=normal_block(f"{characteristic.identity}/full speed", len(phi), characteristic.trials),
        sources=sources,
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
    design = power_design(np.concatenate([each.speed for each in chosen]), phi, ratio, reference)
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
