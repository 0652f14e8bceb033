"""Rules on obstacles: their runs as they were read, and how these fit one law."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.resistance import Resistance, pressure_drop
from stillroom.quality.causes import cause_of
from stillroom.quality.facts import ObstacleFacts, ReadingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.readings import READING_RULES
from stillroom.quality.rules import Severity
from stillroom.quality.saying import RunContext, about_obstacle, about_run, listed
from stillroom.records.limits import Limits

LEAST_POINTS = 6
"""Fewer readings don't show whether a law fits."""

SURELY = 5.0
"""A reading off the law by so many standard deviations, and by the stated limit, is no chance."""

CLEANER = 0.5
"""A nozzle's fault must at least halve what the law leaves."""

NOTED = ("dusty", "dirty", "bent fins")
"""Words of a note that call an obstacle not what it was."""


def check_obstacle(obstacle: ObstacleFacts, limits: Limits) -> list[Finding]:
    """The findings of an obstacle and of its own runs."""
    context = RunContext.of_obstacle(obstacle, limits)
    found = [each for run in obstacle.runs for rule in READING_RULES for each in rule(run, context)]
    for check in (_failed, _few, _low_reynolds, _air, _dusty, _apart, _wrong_nozzle):
        found += check(obstacle, limits)
    if not any(each.rule in (24, 29) for each in found):
        found += _off_the_law(obstacle, limits)
    return found


def _failed(obstacle: ObstacleFacts, _limits: Limits) -> Iterator[Finding]:
    if obstacle.failed and obstacle.runs:
        yield about_obstacle(29, obstacle, obstacle.failed, "a pressure drop that rises with flow",
                             severity=Severity.BLOCKS, cause="the two pressure columns may be swapped",
                             test="look at the columns of the export")  # fmt: skip


def _few(obstacle: ObstacleFacts, limits: Limits) -> Iterator[Finding]:
    flow = np.sort(np.concatenate([each.flow for each in obstacle.runs] or [np.zeros(0)]))
    if not len(flow):
        return
    top = float(flow[-1])
    gap = float(np.diff(flow).max()) if len(flow) > 1 else top
    lacking = f"{len(flow)} readings" if len(flow) < LEAST_POINTS else ""
    if not lacking and gap > 2.0 * limits.gap * top:
        lacking = f"a gap of {100 * gap / top:.0f} % of the greatest flow"
    if lacking:
        yield about_obstacle(
            28, obstacle, f"{obstacle.name}: {lacking}",
            f"{LEAST_POINTS} readings at least, no gap above {200 * limits.gap:g} % of the greatest flow",
            test="add the readings that are missing", common="too few points",
        )  # fmt: skip


def _low_reynolds(obstacle: ObstacleFacts, _limits: Limits) -> Iterator[Finding]:
    low = sum(each.low_reynolds for each in obstacle.runs)
    if low:
        points = sum(len(each.flow) for each in obstacle.runs)
        yield about_obstacle(
            23, obstacle, f"{low} of {points} readings of {obstacle.name} went through a nozzle at Re below 12,000",
            "Re of 12,000 at least; the coefficient's uncertainty is widened there",
            cause="so little flow", test="use the next smaller nozzle",
        )  # fmt: skip


def _air(obstacle: ObstacleFacts, _limits: Limits) -> Iterator[Finding]:
    without = [each.file for each in obstacle.runs if "air not recorded" in each.marks]
    if without:
        yield about_obstacle(
            31, obstacle, f"no air recorded with {listed(without)}",
            "temperature, barometric pressure and humidity beside each run",
            test="write down the three, or export them", common="no air recorded",
        )  # fmt: skip


def _dusty(obstacle: ObstacleFacts, _limits: Limits) -> Iterator[Finding]:
    notes = [each.beside.note for each in obstacle.runs]
    said = next(
        (each for each in (*notes, obstacle.words) if any(word in each.casefold() for word in NOTED)), ""
    )
    since = obstacle.dusty if obstacle.dusty[:10] > obstacle.date else ""
    if said or since:
        yield about_obstacle(
            33, obstacle, f"{obstacle.name} is called dusty: {said or since!r}", "the obstacle as it was measured",
            cause="dust adds resistance", test=f"brush and blow {obstacle.name} clean; sweep it as a new version",
        )  # fmt: skip


def _apart(obstacle: ObstacleFacts, limits: Limits) -> Iterator[Finding]:
    """Rule 29: one run of several that lies beside the law of all by one factor."""
    if obstacle.resistance is None or len(obstacle.runs) < 2:
        return
    factors = {run.run: _factor(run, obstacle.resistance) for run in obstacle.runs}
    for run in obstacle.runs:
        others = [value for name, (value, _) in factors.items() if name != run.run]
        ratio = factors[run.run][0] / float(np.median(others))
        sure = 2.0 * math.hypot(factors[run.run][1], max(each for _, each in factors.values()))
        if abs(ratio - 1.0) > max(2.0 * limits.collapse, sure):
            known = cause_of("pressure", ratio)
            yield about_run(
                29, run, RunContext.of_obstacle(obstacle, limits),
                f"pressure drops in {run.file} are {ratio:.3f} of those of the other runs of {obstacle.name}",
                f"within {200 * limits.collapse:g} %",
                cause=known.words if known else "another version of the obstacle, a leak beside it, or a wrong nozzle",
                test=known.test if known else "look at the seal round the obstacle; sweep it once more",
            )  # fmt: skip


def _factor(run: ReadingFacts, resistance: Resistance) -> tuple[float, float]:
    """The median ratio of drops read to the law's, and its standard deviation [1]."""
    used = run.flow > 0.2 * float(run.flow.max())
    ratio = run.pressure[used] / pressure_drop(resistance.law, resistance.central[None, :], run.flow[used])[0]
    return float(np.median(ratio)), float(np.std(ratio)) / np.sqrt(len(ratio))


def _wrong_nozzle(obstacle: ObstacleFacts, limits: Limits) -> Iterator[Finding]:
    """Rule 24: readings of different nozzle patterns that only agree when one nozzle is taken for another state."""
    runs = [each for each in obstacle.runs if each.nozzles]
    if not runs or obstacle.resistance is None:
        return
    flow = np.concatenate([each.flow for each in runs])
    drop = np.concatenate([each.pressure for each in runs])
    own = np.concatenate([_own(each, obstacle.resistance) for each in runs])
    listed_ = [names for each in runs for names in each.nozzles]
    used = (flow > 0.0) & (drop > 0.0)
    before = _left(flow[used], drop[used], own[used])
    tried = [(name, words, by) for name, words, by in _states(obstacle.bores, listed_)
             if float(np.ptp(by[used])) > 0.05]  # fmt: skip
    fits = [(_left(flow[used] * by[used], drop[used], own[used]), float(np.abs(by[used] - 1.0).max()), name, words)
            for name, words, by in tried]  # fmt: skip
    best = min(fits, default=None)
    usual = 4.0 * max(1, int(used.sum()) - 3)
    if best is None or before < usual or best[0] > CLEANER * before or best[1] < limits.nozzle_pattern:
        return
    yield about_obstacle(
        24, obstacle,
        f"readings of {obstacle.name} through different nozzles contradict each other by up to {100 * best[1]:.1f} %"
        " of flow",
        f"within {100 * limits.nozzle_pattern:g} %", severity=Severity.BLOCKS, cause=best[3],
        test=f"look into {best[2]} from the front; compare the list with the rig", common=best[3],
    )  # fmt: skip


def _own(run: ReadingFacts, resistance: Resistance) -> Array:
    """Relative standard deviation of each drop by the reading's own errors, that of flow carried over."""
    flow = np.divide(run.own_flow, np.abs(run.flow), out=np.zeros_like(run.flow), where=run.flow != 0.0)
    drop = np.divide(
        run.own_pressure, np.abs(run.pressure), out=np.zeros_like(run.flow), where=run.pressure != 0.0
    )
    exponent = 2.0 if resistance.central[0] == 0.0 else 1.8
    return np.asarray(np.sqrt(drop**2 + (exponent * flow) ** 2 + 0.004**2))


def _left(flow: Array, drop: Array, own: Array) -> float:
    """χ² that Δp = aQ + bQ² leaves of relative residuals."""
    design = np.stack([flow / drop, flow**2 / drop], axis=1) / own[:, None]
    found, *_ = np.linalg.lstsq(design, 1.0 / own, rcond=None)
    return float(((design @ found - 1.0 / own) ** 2).sum())


def _states(bores: Mapping[str, float], names: list[tuple[str, ...]]) -> Iterator[tuple[str, str, Array]]:
    """States of each nozzle that would change the flow, and by which factor at each reading."""
    area = np.array([sum(bores[each] ** 2 for each in listed_) for listed_ in names])
    for name, bore in bores.items():
        opened = np.array([name in listed_ for listed_ in names])
        share = np.divide(bore**2, area, out=np.zeros_like(area), where=area > 0.0)
        alone = opened & (share > 0.999)
        if opened.any() and not alone.any():
            yield name, f"nozzle {name} is listed open but is plugged", 1.0 - share * opened
        if (~opened).any():
            yield name, f"nozzle {name} is open but not listed", 1.0 + share * ~opened


def _off_the_law(obstacle: ObstacleFacts, limits: Limits) -> Iterator[Finding]:
    """Rule 29: single readings far from the law."""
    if obstacle.resistance is None:
        return
    for run in obstacle.runs:
        law = pressure_drop(obstacle.resistance.law, obstacle.resistance.central[None, :], run.flow)[0]
        size = np.maximum(np.abs(law), 0.1 * float(np.abs(law).max()))
        relative = (run.pressure - law) / size
        slope = 1.8 * np.divide(run.own_flow, np.abs(run.flow), out=np.zeros_like(law), where=run.flow != 0.0)
        own = np.hypot(run.own_pressure / size, slope)
        robust = 1.4826 * float(np.median(np.abs(relative - np.median(relative))))
        odd = np.flatnonzero(np.abs(relative) > np.maximum(limits.collapse, SURELY * np.hypot(own, robust)))
        if len(odd):
            worst = int(odd[np.argmax(np.abs(relative[odd]))])
            yield about_run(
                29, run, RunContext.of_obstacle(obstacle, limits),
                f"{len(odd)} of {len(law)} readings of {obstacle.name} lie up to {100 * abs(relative[worst]):.1f} %"
                f" off its law (lines {', '.join(str(run.lines[i]) for i in odd)})",
                f"within {100 * limits.collapse:g} %",
                severity=Severity.MARKS if len(odd) == 1 else Severity.BLOCKS,
                cause="a reading before the rig was steady, or a nozzle's list that is wrong there",
                test="read these points again", line=run.lines[worst],
            )  # fmt: skip
