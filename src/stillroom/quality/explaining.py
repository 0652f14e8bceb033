"""Which fault explains a sweep or a mounting that leaves the fan's curve, by least misfit."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.deviation import Cloud, Correction, Explained, Reference, explain, unexplained
from stillroom.quality.causes import CATALOGUE, cause_of
from stillroom.quality.facts import MountingFacts, RunFacts, cloud_of

LEAST_GAIN = 30.0
"""By how much (in χ², scaled by what stays) an explanation must beat "nothing is wrong" to be told."""

CLEARLY = 9.0
"""By how much the best explanation must beat the next one to stand alone (3 standard deviations)."""

BORE_KNOWN = 0.01
"""Standard deviation of a bore about its certificate, relative, where no mistake is known [1]."""

PLUGGED_FROM = 0.6
"""From this share of a nozzle's area on it is called plugged; below, its bore is called wrong."""

_SCALES = np.concatenate([np.linspace(-math.log(12.0), -0.3, 40), np.linspace(-0.27, 0.27, 19),
                          np.linspace(0.3, math.log(12.0), 40)])  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A fault that would explain the points.

    Parameters
    ----------
    kind : flow, pressure, speed, unit, drift, zero, leak, plugged or unlisted.
    which : the nozzle, or for a unit the name of the cause.
    fitted : its parameter and what it leaves. before : the misfit without it.
    effect : greatest relative change that it makes to flow or pressure [1].
    """

    kind: str
    which: str
    fitted: Explained
    before: float
    effect: float

    @property
    def value(self) -> float:
        """Its parameter: for a scale, the ratio read over true [1]."""
        return math.exp(self.fitted.value) if self.kind in SCALES else self.fitted.value

    @property
    def gain(self) -> float:
        """χ² gained, scaled by what stays."""
        return (self.before - self.misfit) / self.fitted.scale

    @property
    def misfit(self) -> float:
        """What it leaves, and what it asks one to believe: a bore is known within a per cent, or plugged."""
        if self.kind != "plugged" or self.value >= PLUGGED_FROM:
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


def explain_sweep(run: RunFacts, reference: Reference) -> Verdict:
    """What is wrong with one sweep that contradicts the others of its mounting."""
    cloud = cloud_of((run,))
    along = np.delete(np.linspace(0.0, 1.0, len(run.phi)), run.held)
    candidates = [*_scales(cloud), *_units(cloud), _zero(cloud), _drift(cloud, along), _leak(cloud)]
    return _verdict(cloud, reference, candidates, (0.003, 0.003))


def explain_mounting(mounting: MountingFacts, reference: Reference, scales: tuple[float, float]) -> Verdict:
    """What is wrong in all sweeps of a mounting, held against the others of its fan."""
    runs = mounting.sound_runs
    cloud = cloud_of(runs)
    candidates = [*_scales(cloud), *_units(cloud), _leak(cloud), *_nozzles(cloud, runs, mounting.bores)]
    return _verdict(cloud, reference, candidates, scales)


def _verdict(
    cloud: Cloud, reference: Reference, candidates: Sequence[Candidate], scales: tuple[float, float]
) -> Verdict:
    nothing = unexplained(cloud, reference, scales)
    if nothing.misfit - len(cloud.flow) < LEAST_GAIN:
        return Verdict(())
    faults = []
    for kind, which, correct, grid in candidates:
        fitted = explain(cloud, reference, correct, grid, scales)
        fault = Fault(kind, which, fitted, nothing.misfit, _effect(cloud, reference, correct, fitted.value))
        if fault.gain >= LEAST_GAIN:
            faults.append(fault)
    return Verdict(tuple(sorted(faults, key=lambda each: each.misfit)))


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


def _zero(cloud: Cloud) -> Candidate:
    """A pressure zero that is off by p of the sweep's greatest pressure."""
    size = float(np.abs(cloud.pressure).max())

    def correct(p: Array) -> tuple[Array, Array]:
        return np.broadcast_to(cloud.flow, (len(p), len(cloud.flow))), cloud.pressure - p * size

    return "zero", "", correct, np.linspace(-0.5, 0.5, 41)


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
    found: list[Candidate] = []
    for name, bore in bores.items():
        open_here = np.array([name in names for names in listed])
        share = np.divide(bore**2, area, out=np.zeros_like(area), where=area > 0.0)
        if open_here.any() and not open_here[area > 0.0].all():
            found.append(("plugged", name, _passing(cloud, -share * open_here), np.linspace(-0.5, 0.97, 43)))
        closed = ~open_here & (area > 0.0)
        if closed.any():
            found.append(("unlisted", name, _passing(cloud, share * closed), np.linspace(0.0, 1.5, 43)))
    return found


def _passing(cloud: Cloud, share: Array) -> Correction:
    def correct(p: Array) -> tuple[Array, Array]:
        flow = cloud.flow * np.maximum(1.0 + p * share, 0.01)
        return flow, np.broadcast_to(cloud.pressure, flow.shape)

    return correct


# --- in words --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Said:
    """A fault in words: the rule that it breaks, the probable cause, and a one-minute test."""

    rule: int
    cause: str
    test: str


def say(fault: Fault, bores: Mapping[str, float]) -> Said:
    """A fault in words."""
    return _SAYING[fault.kind](fault, bores)


def _say_scale(fault: Fault, _bores: Mapping[str, float]) -> Said:
    known = cause_of(fault.kind, fault.value)
    if known is not None:
        rule = 20 if fault.kind == "speed" else 29
        return Said(rule, known.words + f" (the {fault.kind} is {fault.value:.3f} of what fits)", known.test)
    words = {
        "flow": "a nozzle that is listed open is plugged, or a bore is wrong, in all points alike",
        "pressure": "the pressure gauge reads by another factor: tube, range or calibration",
        "speed": "the speed was not what was read",
    }
    tests = {
        "flow": "look into the nozzles that were open; put a gauge to the bore",
        "pressure": "put both tubes of the gauge together and read zero; blow once against a second gauge",
        "speed": "read the speed with the optical tachometer once and compare",
    }
    size = f"{100 * (fault.value - 1):+.1f} %"
    return Said(29, f"{words[fault.kind]}: {fault.kind} reads {size}", tests[fault.kind])


def _say_unit(fault: Fault, _bores: Mapping[str, float]) -> Said:
    known = next(each for each in CATALOGUE if each.name == fault.which)
    return Said(29, f"{known.words} (ratio {known.ratio:.4g})", known.test)


def _say_zero(fault: Fault, _bores: Mapping[str, float]) -> Said:
    share = f"{abs(100 * fault.value):.1f} % of the greatest pressure"
    return Said(29, f"the pressure zero moved by {share}", "stop the fan, read the pressure: it must be 0 Pa")


def _say_drift(fault: Fault, _bores: Mapping[str, float]) -> Said:
    way = "fell" if fault.value > 0 else "rose"
    return Said(
        29,
        f"the speed drifted within the sweep: it {way} by {abs(100 * fault.value):.1f} % from the first to the"
        " last point and the speed read does not show it",
        "hold the setting for a minute and watch the optical tachometer; shorten the logger's averaging",
    )


def _say_leak(fault: Fault, _bores: Mapping[str, float]) -> Said:
    return Said(
        25,
        f"a leak before the nozzles, as large as {100 * fault.value:.1f} % of the fan's area:"
        " shut-off reads low and the missing flow grows with the root of pressure",
        "close all nozzles, pressurise the chamber, feel and listen along the seal; look at what was changed",
    )


def _say_plugged(fault: Fault, bores: Mapping[str, float]) -> Said:
    test = f"look into {fault.which} from the front; put a gauge to its bore"
    if fault.value >= PLUGGED_FROM:
        return Said(24, f"nozzle {fault.which} is listed open but is plugged: the flow reads high by its"
                        " share of the area", test)  # fmt: skip
    really = 1000 * bores[fault.which] * math.sqrt(1.0 - fault.value)
    return Said(24, f"the bore of nozzle {fault.which} is wrong: {really:.2f} mm would fit, not"
                    f" {1000 * bores[fault.which]:.2f} mm", test)  # fmt: skip


def _say_unlisted(fault: Fault, _bores: Mapping[str, float]) -> Said:
    return Said(24, f"nozzle {fault.which} is open but not listed: the flow reads low by its share",
                f"look whether {fault.which} is closed; compare the list with the rig")  # fmt: skip


_SAYING: dict[str, Callable[[Fault, Mapping[str, float]], Said]] = {
    "flow": _say_scale,
    "pressure": _say_scale,
    "speed": _say_scale,
    "unit": _say_unit,
    "zero": _say_zero,
    "drift": _say_drift,
    "leak": _say_leak,
    "plugged": _say_plugged,
    "unlisted": _say_unlisted,
}
