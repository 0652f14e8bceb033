"""Rules that hold one sweep against the curve of its mounting."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from stillroom.core.deviation import Reference
from stillroom.quality.causes import cause_of
from stillroom.quality.explaining import explain_sweep
from stillroom.quality.facts import MountingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import RunContext, about_run
from stillroom.quality.telling import say

SURELY = 6.0
"""Standard deviations from which a sweep blocks though no known fault explains it; below, chance may do it."""


@dataclass(frozen=True)
class SweepContext:
    """What a rule for one sweep is told beside the sweep.

    Parameters
    ----------
    mounting : that it belongs to. run : the context of its runs.
    reference : gives the curve it is held against, None where there is none.
    """

    mounting: MountingFacts
    run: RunContext
    reference: Callable[[], Reference | None]


def sweep_off_the_curve(run: RunFacts, context: SweepContext) -> Iterator[Finding]:
    """Rule 29: a sweep that the fit left out, or that stands apart by more than 3 %."""
    name, worst = run.check.worst
    limit = context.run.limits.collapse
    apart = abs(worst.t) > 4.0 and abs(worst.value) > limit and name != "pressure_zero"
    if not run.check.dropped and not apart:
        return
    reference = context.reference()
    best = explain_sweep(run, reference, context.mounting.bores).best if reference else None
    said = say(best, context.mounting.bores, (run,)) if best else None
    place = ", left out of the fit" if run.check.dropped else ""
    surely = said is not None or abs(worst.t) > SURELY
    yield about_run(
        said.rule if said else 29, run, context.run,
        f"{run.words} of {context.mounting.name} leaves the fan's curve by"
        f" {100 * run.check.collapse:.0f} % (root mean square){place}",
        f"within {100 * limit:g} % of the curve of the other sweeps",
        severity=Severity.BLOCKS if surely else Severity.MARKS,
        cause=said.cause if said else "none of the known patterns fits",
        test=said.test if said else "repeat the sweep", common=said.common if said else "",
    )  # fmt: skip


def held_points(run: RunFacts, context: SweepContext) -> Iterator[Finding]:
    """Rule 29: points that the other sweeps contradict."""
    curve = context.mounting.curve
    if not run.held or curve is None or run.check.dropped:
        return
    ratios = [each for each in curve.held if each.sweep == run.check.sweep]
    by_pressure = [each.pressure_ratio for each in ratios if each.pressure_ratio]
    by_flow = [each.flow_ratio for each in ratios if each.flow_ratio]
    known = None
    if by_pressure:
        known = cause_of("pressure", math.fabs(float(np.median(by_pressure))) or 1.0)
    if known is None and by_flow:
        known = cause_of("flow", float(np.median(by_flow)))
    lines = ", ".join(str(run.lines[i]) for i in run.held)
    yield about_run(
        29, run, context.run,
        f"{len(run.held)} of {len(run.flow)} points of {run.words} contradict the other sweeps (lines {lines});"
        " they are left out of the fit",
        "within 8 robust standard deviations of the curve",
        severity=Severity.MARKS if len(run.held) == 1 else Severity.BLOCKS,
        cause=known.words if known else "a reading before the rig was steady, or a slip of the hand",
        test=known.test if known else "read these points again",
        line=run.lines[run.held[0]],
    )  # fmt: skip


def too_efficient(run: RunFacts, context: SweepContext) -> Iterator[Finding]:
    """Rule 44: static efficiency above what such a fan can have."""
    greatest = context.run.limits.static_efficiency
    if run.efficiency is None or run.efficiency <= greatest:
        return
    yield about_run(
        44, run, context.run, f"static efficiency of {100 * run.efficiency:.0f} % in {run.words}",
        f"at most {100 * greatest:g} %", cause="a wrong unit of flow, pressure or current",
        test="multiply volts and amps by hand for one point; look at the units in the export",
    )  # fmt: skip


SWEEP_RULES = (sweep_off_the_curve, held_points, too_efficient)
