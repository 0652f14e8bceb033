"""Which fault explains a sweep or a mounting that leaves the fan's curve, by least misfit."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.deviation import Cloud, Correction, Explained, Reference, explain, unexplained
from stillroom.quality.causes import CATALOGUE
from stillroom.quality.facts import MountingFacts, RunFacts, cloud_of, per_pascal

LEAST_GAIN = 30.0
"""By how much (in χ², scaled by what stays) an explanation must beat "nothing is wrong" to be told."""

CLEARLY = 9.0
"""By how much the best explanation must beat the next one to stand alone (3 standard deviations)."""

BORE_KNOWN = 0.01
"""Standard deviation of a bore about its certificate, relative, where no mistake is known [1]."""

PLUGGED_FROM = 0.6
"""From this share of a nozzle's area on it is called plugged; below, its bore is called wrong."""

SAME_BORE = 0.012
"""A bore that would fit is that of another nozzle of the bank within this [1]."""

LEAST_SHARE = 0.05
"""A nozzle's share of the open area must differ by more between points for its fault to be told apart [1]."""

_SCALES = np.concatenate([np.linspace(-math.log(12.0), -0.3, 40), np.linspace(-0.27, 0.27, 19),
                          np.linspace(0.3, math.log(12.0), 40)])  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A fault that would explain the points.

    Parameters
    ----------
    kind : flow, pressure, speed, unit, drift, zero, creep, leak, plugged, unlisted or exchanged.
    which : the nozzle, or for a unit the name of the cause. twin : the nozzle of the bank that would fit in
    its place, or "".
    fitted : its parameter and what it leaves. before : the misfit without it.
    effect : greatest relative change that it makes to flow or pressure [1].
    """

    kind: str
    which: str
    fitted: Explained
    before: float
    effect: float
    twin: str = ""

    @property
    def value(self) -> float:
        """Its parameter: for a scale, the ratio read over true [1]; for a zero, its shift [Pa]."""
        return math.exp(self.fitted.value) if self.kind in SCALES else self.fitted.value

    @property
    def gain(self) -> float:
        """χ² gained, scaled by what stays."""
        return (self.before - self.misfit) / self.fitted.scale

    @property
    def misfit(self) -> float:
        """What it leaves, and what it asks one to believe: a bore is known within a per cent, or plugged, or
        another nozzle's."""
        if self.kind != "plugged" or self.value >= PLUGGED_FROM or self.twin:
            return self.fitted.misfit
        return self.fitted.misfit + self.fitted.scale * (0.5 * math.log(1.0 - self.value) / BORE_KNOWN) ** 2


SCALES = ("flow", "pressure", "speed")

Candidate = tuple[str, str, Correction, Array]
"""Kind, which one, where the points would lie without it, and the values to try."""


@dataclass(frozen=True)
class Verdict:
    """The faults by gain, the best first; empty where nothing needs explaining."""

    faults: tuple[Fault, ...]

    @property
    def best(self) -> Fault | None:
        """The fault that explains the points, or None."""
        return self.faults[0] if self.faults else None

    @property
    def rivals(self) -> tuple[Fault, ...]:
        """Others that explain them nearly as well."""
        if not self.faults:
            return ()
        scale, least = self.faults[0].fitted.scale, self.faults[0].misfit
        return tuple(each for each in self.faults[1:] if (each.misfit - least) / scale < CLEARLY)


def explain_sweep(run: RunFacts, reference: Reference, bores: Mapping[str, float]) -> Verdict:
    """What is wrong with one sweep that contradicts the others of its mounting."""
    cloud = cloud_of((run,))
    along = np.delete(np.linspace(0.0, 1.0, len(run.phi)), run.held)
    per = per_pascal((run,))
    candidates = [*_scales(cloud), *_units(cloud), _zero(cloud, per), _creep(cloud, per, along),
                  _drift(cloud, along), _leak(cloud), *_nozzles(cloud, (run,), bores)]  # fmt: skip
    return _verdict(cloud, reference, candidates, (0.003, 0.003), bores, (run,))


def explain_mounting(mounting: MountingFacts, reference: Reference, scales: tuple[float, float]) -> Verdict:
    """What is wrong in all sweeps of a mounting, held against the others of its fan."""
    runs = mounting.sound_runs
    cloud = cloud_of(runs)
    candidates = [*_scales(cloud), *_units(cloud), _leak(cloud), _zero(cloud, per_pascal(runs)),
                  *_nozzles(cloud, runs, mounting.bores)]  # fmt: skip
    return _verdict(cloud, reference, candidates, scales, mounting.bores, runs)


def explain_patterns(mounting: MountingFacts, reference: Reference) -> Verdict:
    """Which nozzle makes the sweeps of one mounting contradict each other, held against their own curve.

    What the fit has taken for scatter is not allowed for: it may be the fault itself.
    """
    runs = tuple(
        replace(each, scatter=np.full_like(each.scatter, USUAL_SCATTER)) for each in mounting.sound_runs
    )
    cloud = cloud_of(runs)
    return _verdict(cloud, reference, _nozzles(cloud, runs, mounting.bores), OWN_SCALES, mounting.bores, runs)


USUAL_SCATTER = 0.004
"""Scatter of readings about a curve beyond their own errors, relative to ψ, where nothing is wrong [1]."""

OWN_SCALES = (0.01, 0.01)
"""How far a mounting's own curve may lie beside its points for the fault that bent it [1]."""


def _verdict(
    cloud: Cloud,
    reference: Reference,
    candidates: Sequence[Candidate],
    scales: tuple[float, float],
    bores: Mapping[str, float],
    runs: Sequence[RunFacts],
) -> Verdict:
    nothing = unexplained(cloud, reference, scales)
    if nothing.misfit - len(cloud.flow) < LEAST_GAIN:
        return Verdict(())
    faults = []
    for kind, which, correct, grid in candidates:
        fitted = explain(cloud, reference, correct, grid, scales)
        effect = _effect(cloud, reference, correct, fitted.value)
        twin = _twin(which, fitted.value, bores, runs) if kind == "plugged" else ""
        fault = Fault(kind, which, fitted, nothing.misfit, effect, twin)
        if fault.gain >= LEAST_GAIN:
            faults.append(fault)
    return Verdict(tuple(sorted(faults, key=lambda each: each.misfit)))


def _twin(name: str, blocked: float, bores: Mapping[str, float], runs: Sequence[RunFacts]) -> str:
    """The nozzle that would fit where another is listed, if it isn't listed beside it."""
    fits = bores[name] * math.sqrt(max(1.0 - blocked, 0.0))
    beside = {each for run in runs for names in run.nozzles if name in names for each in names}
    near = [each for each, bore in bores.items() if each not in beside and abs(fits / bore - 1.0) < SAME_BORE]
    return near[0] if near else ""


def _effect(cloud: Cloud, reference: Reference, correct: Correction, value: float) -> float:
    """The greatest change of flow relative to the greatest flow, or of pressure to the greatest pressure."""
    flow, pressure = correct(np.array([[value]]))
    by_flow = np.abs(flow[0] - cloud.flow).max() / max(float(flow[0].max()), 1e-9)
    return float(max(by_flow, np.abs(pressure[0] - cloud.pressure).max() / reference.top))


def _scaled(cloud: Cloud, by_flow: float, by_pressure: float) -> Correction:
    """The read values are exp(p)^power times the true ones."""

    def correct(p: Array) -> tuple[Array, Array]:
        return cloud.flow * np.exp(-by_flow * p), cloud.pressure * np.exp(-by_pressure * p)

    return correct


def _scales(cloud: Cloud) -> list[Candidate]:
    # a speed that reads k times the true one makes φ read 1/k and ψ read 1/k² of what they are
    return [
        ("flow", "", _scaled(cloud, 1.0, 0.0), _SCALES),
        ("pressure", "", _scaled(cloud, 0.0, 1.0), _SCALES),
        ("speed", "", _scaled(cloud, -1.0, -2.0), _SCALES),
    ]


def _units(cloud: Cloud) -> list[Candidate]:
    """Pressure in another unit, with a zero of p of the greatest that the calibration took off in the wrong one."""
    return [("unit", each.name, _in_unit(cloud, each.ratio), np.linspace(-0.2, 0.2, 21))
            for each in CATALOGUE if each.quantity == "pressure"]  # fmt: skip


def _in_unit(cloud: Cloud, ratio: float) -> Correction:
    size = float(np.abs(cloud.pressure).max())

    def correct(p: Array) -> tuple[Array, Array]:
        pressure = (cloud.pressure - p * size) / ratio
        return np.broadcast_to(cloud.flow, pressure.shape), pressure

    return correct


def _zero(cloud: Cloud, per: Array) -> Candidate:
    """A pressure zero that is off by p [Pa], the same at each point."""
    size = float(np.abs(cloud.pressure / per).max())

    def correct(p: Array) -> tuple[Array, Array]:
        return np.broadcast_to(cloud.flow, (len(p), len(cloud.flow))), cloud.pressure - p * per

    return "zero", "", correct, size * np.linspace(-0.5, 0.5, 61)


def _creep(cloud: Cloud, per: Array, along: Array) -> Candidate:
    """A pressure zero that moves by p [Pa] from the first to the last reading."""

    def correct(p: Array) -> tuple[Array, Array]:
        return np.broadcast_to(cloud.flow, (len(p), len(cloud.flow))), cloud.pressure - p * per * along

    return "creep", "", correct, _zero(cloud, per)[3]


def _drift(cloud: Cloud, along: Array) -> Candidate:
    """A speed that falls by the share p from first to last reading, unseen by the speed read."""

    def correct(p: Array) -> tuple[Array, Array]:
        slow = 1.0 - p * along
        return cloud.flow / slow, cloud.pressure / slow**2

    return "drift", "", correct, np.linspace(-0.3, 0.3, 41)


def _leak(cloud: Cloud) -> Candidate:
    """Air that escapes before the nozzles through p of the fan's disc area: Q = A √(2p/ρ), φ = p √ψ."""
    root = np.sqrt(np.maximum(cloud.pressure, 0.0))

    def correct(p: Array) -> tuple[Array, Array]:
        return cloud.flow + p * root, np.broadcast_to(cloud.pressure, (len(p), len(cloud.flow)))

    return "leak", "", correct, np.linspace(0.0, 0.2, 41)


def _nozzles(cloud: Cloud, runs: Sequence[RunFacts], bores: Mapping[str, float]) -> list[Candidate]:
    """A nozzle that passes 1 − p of its area where it is listed; or p of it where it isn't."""
    listed = [names for run in runs for i, names in enumerate(run.nozzles) if i not in run.held]
    if len(listed) != len(cloud.flow):
        return []
    area = np.array([sum(bores[each] ** 2 for each in names) for names in listed])
    flowing = area > 0.0
    found: list[Candidate] = []
    for name, bore in bores.items():
        share = np.divide(bore**2, area, out=np.zeros_like(area), where=flowing)
        opened = share * np.array([name in names for names in listed])
        closed = share * np.array([name not in names for names in listed]) * flowing
        if _varies(opened[flowing]):
            found.append(("plugged", name, _passing(cloud, -opened), PLUGGED))
        if _varies(closed[flowing]):
            found.append(("unlisted", name, _passing(cloud, closed), np.linspace(0.0, 1.5, 43)))
    return [*found, *_exchanged(cloud, listed, bores)]


def _exchanged(
    cloud: Cloud, listed: Sequence[tuple[str, ...]], bores: Mapping[str, float]
) -> Iterator[Candidate]:
    """Two nozzles that stand in the lists under each other's names; p of the change is there, 1 for all of it."""
    area = np.array([sum(bores[each] ** 2 for each in names) for names in listed])
    for one, other in itertools.combinations(bores, 2):
        names = {one: other, other: one}
        true = np.array(
            [sum(bores[names.get(each, each)] ** 2 for each in each_list) for each_list in listed]
        )
        change = np.divide(true, area, out=np.ones_like(area), where=area > 0.0) - 1.0
        if _varies(change[area > 0.0]):
            yield "exchanged", f"{one} and {other}", _passing(cloud, change), np.linspace(0.0, 1.5, 31)


PLUGGED = np.concatenate([np.linspace(-6.0, -0.6, 19), np.linspace(-0.5, 0.97, 43)])


def _varies(share: Array) -> bool:
    """Whether a nozzle's share of the area differs between points: else it is one factor for all."""
    return bool(len(share)) and float(share.max() - share.min()) > LEAST_SHARE


def _passing(cloud: Cloud, share: Array) -> Correction:
    def correct(p: Array) -> tuple[Array, Array]:
        flow = cloud.flow * np.maximum(1.0 + p * share, 0.01)
        return flow, np.broadcast_to(cloud.pressure, flow.shape)

    return correct
