"""Rules on magnitudes: what size of flow and pressure an axial fan can have, and which mix-up explains another.

With one mounting, even with one sweep, there is nothing else to hold it against but physics, the box and its size.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.fanlaws import disc_area
from stillroom.quality.causes import CATALOGUE, Cause
from stillroom.quality.facts import FanFacts, MountingFacts, ReadingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import RunContext, about_mounting, about_run

USUAL_FLOW, FLOW_SPREAD = 0.232, 0.13
"""φ at free delivery of axial fans for cases and radiators: median, and standard deviation of its logarithm. From
k_q of 0.052–0.068 m³/h per rpm (120 mm) and 0.085–0.105 (140 mm); common practice, from memory."""

USUAL_PRESSURE, PRESSURE_SPREAD = 0.30, 0.22
"""ψ at shut-off likewise, from k_p of 5.5e-6–1.0e-5 Pa/rpm² (120 mm) and 7e-6–1.2e-5 (140 mm)."""

IMPLAUSIBLE, SURELY, PLAUSIBLE = 9.0, 15.0, 6.0
"""χ² of two degrees of freedom: hardly any such fan lies beyond the first (1 %, which marks), none beyond the second
(0.05 %, which blocks); below the third one may lie (5 %)."""

CLEARLY = 4.0
"""By how much in χ² one mix-up must beat the next to be told alone."""

SIZES = (0.04, 0.06, 0.08, 0.092, 0.12, 0.14, 0.16, 0.18, 0.2)
"""Usual sizes of axial fans [m]."""


@dataclass(frozen=True)
class Size:
    """Logarithms of φ at free delivery and ψ at shut-off, as read [1]; None where the sweep doesn't reach it."""

    flow: float | None
    pressure: float | None

    def misfit(self, flow: float = 0.0, pressure: float = 0.0) -> float:
        """χ² against usual fans, after what a mix-up added has been taken off."""
        off = 0.0
        if self.flow is not None:
            off += ((self.flow - flow - math.log(USUAL_FLOW)) / FLOW_SPREAD) ** 2
        if self.pressure is not None:
            off += ((self.pressure - pressure - math.log(USUAL_PRESSURE)) / PRESSURE_SPREAD) ** 2
        return off


def size_of(run: ReadingFacts, diameter: float) -> Size:
    """The magnitudes of one sweep."""
    if run.speed is None or not (run.speed > 0.0).all() or len(run.flow) < 3:
        return Size(None, None)
    tip = np.pi * diameter * run.speed
    phi = run.flow / (disc_area(diameter) * tip)
    psi = run.pressure / (0.5 * run.density * tip**2)
    open_, shut = int(np.argmax(run.flow)), int(np.argmin(run.flow))
    free = psi[open_] < 0.35 * float(psi.max())
    closed = phi[shut] < 0.3 * float(phi.max())
    return Size(
        math.log(phi[open_]) if free and phi[open_] > 0.0 else None,
        math.log(psi[shut]) if closed and psi[shut] > 0.0 else None,
    )


@dataclass(frozen=True)
class MixUp:
    """One mix-up: what it adds to the logarithms of φ and ψ, in words, the rule it belongs to, and its test."""

    flow: float
    pressure: float
    words: str
    test: str
    rule: int = 44


def mix_ups(diameter: float, *, told: bool) -> list[MixUp]:
    """All mix-ups that are tried; of sizes only where one was told."""
    found = [_of_cause(each) for each in CATALOGUE]
    if told:
        found += [_of_size(diameter, each) for each in SIZES if abs(each / diameter - 1.0) > 0.05]
    return found


def _of_cause(cause: Cause) -> MixUp:
    by = math.log(cause.ratio)
    if cause.quantity == "speed":  # a speed that reads k times the true one: φ/k, ψ/k²
        return MixUp(-by, -2.0 * by, cause.words, cause.test, 20)
    return MixUp(by if cause.quantity == "flow" else 0.0, by if cause.quantity == "pressure" else 0.0,
                 cause.words, cause.test)  # fmt: skip


def _of_size(told: float, true: float) -> MixUp:
    by = math.log(true / told)  # φ ∝ 1/D³, ψ ∝ 1/D²
    return MixUp(3.0 * by, 2.0 * by, f"the fan is of {1000 * true:g} mm and was taken for {1000 * told:g} mm",
                 "put a rule to the frame; correct the fan's size")  # fmt: skip


def implausible(fan: FanFacts) -> Iterator[Finding]:
    """Rules 20 and 44: mountings, or sweeps, whose flow and pressure no such fan has, with the mix-up that explains
    it: alone, they have nothing else to be held against.
    """
    told = bool(fan.record and fan.record.size)
    for mounting in fan.mountings:
        sizes = [(run, size_of(run, mounting.diameter)) for run in mounting.readings]
        odd = [(run, size) for run, size in sizes if size.misfit() > IMPLAUSIBLE]
        if not odd:
            continue
        candidates = mix_ups(mounting.diameter, told=told)
        if len(odd) == len(sizes):
            middle = Size(
                _median([each.flow for _, each in odd]), _median([each.pressure for _, each in odd])
            )
            if (best := explained(middle, candidates)) is not None:
                yield _whole(mounting, middle, best)
        elif not mounting.runs:  # a curve would tell by itself which sweep leaves it
            for run, size in odd:
                if (best := explained(size, candidates)) is not None:
                    yield _single(fan, mounting, run, size, best)


def _median(values: Sequence[float | None]) -> float | None:
    known = [each for each in values if each is not None]
    return float(np.median(known)) if known else None


def explained(size: Size, candidates: Sequence[MixUp]) -> list[MixUp] | None:
    """The mix-ups that make magnitudes plausible, the likeliest first; None where none does."""
    fitting = [(size.misfit(each.flow, each.pressure), each) for each in candidates]
    found = sorted((each for each in fitting if each[0] < PLAUSIBLE), key=lambda each: each[0])
    if not found:
        return None
    return [each for misfit, each in found if misfit - found[0][0] < CLEARLY]


def _words(best: Sequence[MixUp]) -> str:
    return best[0].words + "".join(f"; or {each.words}" for each in best[1:3])


def _told(size: Size) -> str:
    parts = []
    if size.flow is not None:
        parts.append(f"φ at free delivery is {math.exp(size.flow):.3g}")
    if size.pressure is not None:
        parts.append(f"ψ at shut-off is {math.exp(size.pressure):.3g}")
    return " and ".join(parts)


_EXPECTED = (
    f"about {USUAL_FLOW * math.exp(-2 * FLOW_SPREAD):.2f} to {USUAL_FLOW * math.exp(2 * FLOW_SPREAD):.2f} and"
    f" {USUAL_PRESSURE * math.exp(-2 * PRESSURE_SPREAD):.2f} to"
    f" {USUAL_PRESSURE * math.exp(2 * PRESSURE_SPREAD):.2f} for an axial fan"
)


def _severity(size: Size) -> Severity:
    return Severity.BLOCKS if size.misfit() > SURELY else Severity.MARKS


def _whole(mounting: MountingFacts, size: Size, best: Sequence[MixUp]) -> Finding:
    return about_mounting(
        best[0].rule, mounting, f"in all sweeps of {mounting.name} {_told(size)}", _EXPECTED,
        severity=_severity(size), cause=_words(best),
        test=best[0].test, common=best[0].words,
    )  # fmt: skip


def _single(
    fan: FanFacts, mounting: MountingFacts, run: ReadingFacts, size: Size, best: Sequence[MixUp]
) -> Finding:
    return about_run(
        best[0].rule, run, RunContext.of_mounting(mounting, fan), f"in {run.words} {_told(size)}", _EXPECTED,
        severity=_severity(size), cause=_words(best), test=best[0].test, common=best[0].words,
    )  # fmt: skip


def rising_pressure(fan: FanFacts) -> Iterator[Finding]:
    """Rule 44: pressure that rises with flow from end to end: what no fan does."""
    for mounting in fan.mountings:
        odd = [run for run in mounting.readings if len(run.flow) >= 5 and _rank_correlation(run) > 0.5]
        for run in odd:
            yield about_run(
                44, run, RunContext.of_mounting(mounting, fan),
                f"the pressure rises with the flow all through {run.words}", "a pressure that falls with the flow",
                cause="two pressure columns are swapped (static and nozzle pressure), or the tubes at the gauge",
                test="close the throttle: the static pressure must go up and the nozzle pressure down",
                common="two pressure columns are swapped",
            )  # fmt: skip


def _rank_correlation(run: ReadingFacts) -> float:
    """Spearman's rank correlation of pressure and flow [1]."""

    def ranks(values: Array) -> Array:
        return np.asarray(np.argsort(np.argsort(values)), dtype=float)

    return float(np.corrcoef(ranks(run.flow), ranks(run.pressure))[0, 1])
