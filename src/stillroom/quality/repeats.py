"""Rules on sweeps of one mounting at one setting: the repeat at its end, rising against falling flow, scatter."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic
from stillroom.core.deviation import central
from stillroom.quality.facts import FanFacts, MountingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.readings import band
from stillroom.quality.rules import Severity
from stillroom.quality.saying import about_fan, about_mounting, listed
from stillroom.records.keys import key_of

SAME_SETTING = 1e-3
SURELY = 4.0
"""Standard deviations from which a repeat blocks: among the sixty mountings of a round chance passes two of them
three times, so that less than four only marks."""
HYSTERESIS = 0.03
"""Pressures with rising and with falling flow differ by more in the stall, relative to the greatest pressure."""

UNSTEADY = 2.5
"""Readings in the stall scatter by so many times more than elsewhere, at least."""


def repeated_setting(fan: FanFacts) -> Iterator[Finding]:
    """Rule 39: the repeat of a setting gives another flow; or nothing was repeated."""
    without = []
    for mounting in fan.mountings:
        pairs = list(_repeats(mounting))
        if mounting.runs and not pairs:
            without.append(mounting)
        for first, last in pairs:
            yield from _repeat(fan, mounting, first, last)
    if without:
        yield about_fan(
            39, fan.name, key_of("repeat", [each.judged for each in without]),
            f"no setting was repeated at the end of {listed([each.name for each in without])}",
            "the first setting once more at the end of each mounting",
            cause="drift within a mounting goes unseen", test="repeat the first sweep before the fan is taken off",
        )  # fmt: skip


def _repeats(mounting: MountingFacts) -> Iterator[tuple[RunFacts, RunFacts]]:
    """First and last sweep of each setting that was swept more than once in the same direction."""
    groups: dict[tuple[float, str], list[RunFacts]] = defaultdict(list)
    for run in mounting.sound_runs:
        if run.setting is not None:
            groups[round(run.setting / SAME_SETTING) * SAME_SETTING, run.direction].append(run)
    for runs in groups.values():
        ordered = sorted(runs, key=lambda each: (each.moment, each.file))
        if len(ordered) > 1:
            yield ordered[0], ordered[-1]


def _repeat(fan: FanFacts, mounting: MountingFacts, first: RunFacts, last: RunFacts) -> Iterator[Finding]:
    offsets = [each.check.flow_offset for each in (first, last)]
    speeds = [each.mean_speed for each in (first, last)]
    turned = math.log(speeds[1] / speeds[0]) if speeds[0] and speeds[1] else 0.0
    moved = math.expm1(offsets[1].value - offsets[0].value + turned)
    sure = 2.0 * math.hypot(offsets[0].sd, offsets[1].sd)
    if abs(moved) <= max(fan.limits.repeat, sure):
        return
    surely = abs(moved) > max(fan.limits.repeat, SURELY / 2.0 * sure)
    by_speed = abs(turned) > 0.7 * abs(moved)
    yield about_mounting(
        39, mounting,
        f"the repeat of {first.words} of {mounting.name} gives {100 * moved:+.1f} % flow"
        + (f" (speed {100 * math.expm1(turned):+.1f} %)" if speeds[0] and speeds[1] else ""),
        f"within {100 * max(fan.limits.repeat, sure):.1f} %",
        severity=Severity.BLOCKS if surely else Severity.MARKS,
        cause="the fan got warm or its supply drifted" if by_speed else "a seal, a tube or a gauge moved meanwhile",
        test="repeat it once more; " + ("read the voltage" if by_speed else "read the gauge's zero, feel the seal"),
        what=f"repeat of {first.run} by {last.run}", common="the first setting doesn't repeat",
    )  # fmt: skip


# --- stall -----------------------------------------------------------------------------------------------


def stalled_region(curve: Characteristic) -> tuple[float, float] | None:
    """φ from the valley of a curve's saddle to the hump right of it; None where it has no hump.

    A dip counts from 2 % of the greatest ψ on.
    """
    phi = np.linspace(max(curve.reach[0], 0.0), curve.reach[1], 200)
    psi = central(curve, phi, curve.reynolds_reference)
    rises = np.flatnonzero(np.diff(psi) > 0.0)
    if not len(rises):
        return None
    ends = np.flatnonzero(np.diff(rises) > 1)
    best: tuple[float, float, float] | None = None
    for part in np.split(rises, ends + 1):
        low, high = int(part[0]), int(part[-1]) + 1
        height = float(psi[high] - psi[low])
        if low > 0 and height > 0.02 * float(psi.max()) and (best is None or height > best[0]):
            best = height, float(phi[low]), float(phi[high])
    return best[1:] if best else None


def unsteady_stall(fan: FanFacts) -> Iterator[Finding]:
    """Rule 27: readings that scatter in the stall, and rising flow against falling."""
    for mounting in fan.mountings:
        contradicted = any(each.check.dropped or len(each.held) > 1 for each in mounting.runs)
        stall = stalled_region(mounting.curve) if mounting.curve and not contradicted else None
        if stall is not None and mounting.curve is not None:
            yield from _scatter(fan, mounting, mounting.curve, stall)
        if mounting.curve is not None:
            yield from _hysteresis(mounting)


def _scatter(
    fan: FanFacts, mounting: MountingFacts, curve: Characteristic, stall: tuple[float, float]
) -> Iterator[Finding]:
    inside: list[float] = []
    outside: list[float] = []
    flows: list[float] = []
    for run in mounting.sound_runs:
        relative = _departures(run, curve)
        here = (run.phi > 0.6 * stall[0]) & (run.phi < stall[1])
        inside += relative[here].tolist()
        outside += relative[~here & (run.phi < 0.9 * curve.reach[1])].tolist()
        if run is mounting.sound_runs[-1]:
            flows = run.flow[here].tolist()
    if len(inside) < 6 or len(outside) < 6 or not flows:
        return
    level, usual = (float(np.sqrt(np.mean(np.square(each)))) for each in (inside, outside))
    if level > max(fan.limits.hunting, UNSTEADY * usual):
        yield about_mounting(
            27, mounting,
            f"stall/unsteady: readings of {mounting.name} in its stall scatter by {100 * level:.1f} %"
            f" ({100 * usual:.1f} % elsewhere), at the greatest setting {band(np.array(flows))}",
            f"{100 * fan.limits.hunting:g} % at most", severity=Severity.MARKS,
            cause="the flow separates and finds no equilibrium there",
            test="hold the throttle in this band for two minutes and watch the gauge",
            common="the flow finds no equilibrium",
        )  # fmt: skip


def _departures(run: RunFacts, curve: Characteristic) -> Array:
    """How far each pressure lies from the curve beyond its own error, relative to ψ there; (n,)."""
    level = central(curve, run.phi, float(np.median(run.reynolds)))
    size = np.maximum(np.abs(level), 0.1 * float(np.abs(level).max()))
    step = 0.01 * float(run.phi.max())
    slope = (central(curve, run.phi + step, float(np.median(run.reynolds))) - level) / step
    by_flow = slope * run.phi * np.divide(run.own_flow, np.abs(run.flow), out=np.zeros_like(run.flow),
                                          where=run.flow != 0.0)  # fmt: skip
    by_pressure = run.psi * np.divide(run.own_pressure, np.abs(run.pressure), out=np.zeros_like(run.flow),
                                      where=run.pressure != 0.0)  # fmt: skip
    own = np.hypot(by_flow, by_pressure)
    left = np.maximum(np.abs(run.psi - level) - 2.0 * own, 0.0)
    return np.asarray(left / size)


def _hysteresis(mounting: MountingFacts) -> Iterator[Finding]:
    """Sweeps at one setting with rising and with falling flow, laid over each other."""
    pairs = [
        (up, down) for up, down in itertools.product(_going(mounting, "up"), _going(mounting, "down"))
        if up.setting is not None and down.setting is not None and abs(up.setting - down.setting) < SAME_SETTING
    ]  # fmt: skip
    worst, where = 0.0, ""
    for up, down in pairs:
        gap, flow = _gap(up, down)
        if gap > worst:
            worst, where = gap, f"{up.words}, {band(flow)}"
    if worst > HYSTERESIS:
        yield about_mounting(
            27, mounting,
            f"rising and falling flow give pressures of {mounting.name} up to {100 * worst:.0f} % of the greatest"
            f" apart ({where})",
            f"within {100 * HYSTERESIS:g} %", severity=Severity.MARKS,
            cause="hysteresis of the stall: the flow lets go and takes hold at different openings",
            test="hold the throttle there and come once from either side",
            what="hysteresis", common="hysteresis of the stall",
        )  # fmt: skip


def _going(mounting: MountingFacts, direction: str) -> list[RunFacts]:
    return [each for each in mounting.sound_runs if each.direction == direction]


def _gap(up: RunFacts, down: RunFacts) -> tuple[float, Array]:
    """The greatest gap of ψ between two sweeps, twice in a row beyond errors, relative; and the flows there."""
    order, other = np.argsort(up.phi), np.argsort(down.phi)
    phi, psi = down.phi[other], down.psi[other]
    inside = (up.phi[order] > phi[0]) & (up.phi[order] < phi[-1])
    at = order[inside]
    apart = np.abs(up.psi[at] - np.interp(up.phi[at], phi, psi)) / float(max(up.psi.max(), down.psi.max()))
    if len(apart) < 3:
        return 0.0, up.flow[:1]
    both = np.minimum(apart[:-1], apart[1:])
    i = int(np.argmax(both))
    return float(both[i]), up.flow[at[i : i + 2]]


def humped(curves: Sequence[Characteristic]) -> bool:
    """Whether any of these curves has a hump."""
    return any(stalled_region(each) is not None for each in curves)
