"""Rules that look at one run: readings against what the rig and physics admit, sweeps against their curve."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from stillroom.core.deviation import Reference
from stillroom.quality.causes import cause_of
from stillroom.quality.explaining import explain_sweep, say
from stillroom.quality.facts import MountingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity

LEAST_DROP = 25.0  # Pa across a nozzle
NOMINAL_VOLTAGE, VOLTAGE_WINDOW = 12.0, 0.1
OPTICAL = 0.005
GREATEST_EFFICIENCY = 0.45
OFF_THE_CURVE = 0.03
SURELY = 6.0
"""Standard deviations from which a sweep blocks though no known fault explains it; below, chance may do it."""


@dataclass(frozen=True)
class RunContext:
    """What a rule for one run is told beside the run.

    Parameters
    ----------
    mounting : that it belongs to. reference : gives the curve it is held against, None where there is none.
    wires : of the fan, None where not told.
    """

    mounting: MountingFacts
    reference: Callable[[], Reference | None]
    wires: int | None


def _finding(
    rule: int,
    run: RunFacts,
    context: RunContext,
    found: str,
    expected: str,
    *,
    severity: Severity = Severity.BLOCKS,
    cause: str = "",
    test: str = "",
    line: int | None = None,
) -> Finding:
    mounting = context.mounting
    blocks = severity is Severity.BLOCKS and not run.check.dropped
    place = run.file if line is None else f"{run.file}, line {line}"
    return Finding(rule, run.subject, run.key, severity, found, expected, cause, test, place,
                   (mounting.fan,), (mounting.name,) if blocks else ())  # fmt: skip


def sweep_off_the_curve(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 29: a sweep that the fit left out, or that stands apart by more than 3 %."""
    name, worst = run.check.worst
    apart = abs(worst.t) > 4.0 and abs(worst.value) > OFF_THE_CURVE and name != "pressure_zero"
    if not run.check.dropped and not apart:
        return
    reference = context.reference()
    best = explain_sweep(run, reference).best if reference else None
    said = say(best, context.mounting.bores) if best else None
    place = ", left out of the fit" if run.check.dropped else ""
    surely = said is not None or abs(worst.t) > SURELY
    yield _finding(
        said.rule if said else 29,
        run,
        context,
        f"{run.words} of {context.mounting.name} leaves the fan's curve by"
        f" {100 * run.check.collapse:.0f} % (root mean square){place}",
        "within 3 % of the curve of the other sweeps",
        severity=Severity.BLOCKS if surely else Severity.MARKS,
        cause=said.cause if said else "none of the known patterns fits",
        test=said.test if said else "repeat the sweep",
    )


def held_points(run: RunFacts, context: RunContext) -> Iterator[Finding]:
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
    yield _finding(
        29,
        run,
        context,
        f"{len(run.held)} of {len(run.flow)} points of {run.words} contradict the other sweeps (lines {lines});"
        " they are left out of the fit",
        "within 8 robust standard deviations of the curve",
        severity=Severity.MARKS if len(run.held) == 1 else Severity.BLOCKS,
        cause=known.words if known else "a reading before the rig was steady, or a slip of the hand",
        test=known.test if known else "read these points again",
        line=run.lines[run.held[0]],
    )


def optical_disagrees(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 20: tachometer and optical tachometer both read, and unlike."""
    optical = run.read.get("optical_speed")
    if optical is None or run.speed is None or not (optical > 0.0).all():
        return
    ratio = float(np.median(run.speed / optical))
    if abs(ratio - 1.0) <= OPTICAL:
        return
    known = cause_of("speed", ratio, within=0.01)
    yield _finding(
        20,
        run,
        context,
        f"the tachometer wire reads {ratio:.3f} of the optical tachometer in {run.words}",
        "the same within 0.5 %",
        cause=known.words if known else "one of the two lost its signal, or the tape slipped",
        test="read both once more at a steady setting",
    )


def supply_voltage(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 21: a 4-wire fan is measured at 12 V; its speed follows the duty, not the supply."""
    volts = run.read.get("voltage")
    if volts is None or context.wires != 4:
        return
    off = volts - NOMINAL_VOLTAGE
    worst = int(np.argmax(np.abs(off)))
    if abs(off[worst]) <= VOLTAGE_WINDOW:
        return
    yield _finding(
        21,
        run,
        context,
        f"{volts[worst]:.2f} V in {run.words}",
        "12 V ± 0.1 V at the connector",
        severity=Severity.BLOCKS if abs(off[worst]) > 0.05 * NOMINAL_VOLTAGE else Severity.MARKS,
        cause="voltage lost in the cable, or the supply set by its own display",
        test="measure the voltage at the fan's connector",
        line=run.lines[worst],
    )


def too_efficient(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 44: static efficiency above what such a fan can have."""
    if run.efficiency is None or run.efficiency <= GREATEST_EFFICIENCY:
        return
    yield _finding(
        44,
        run,
        context,
        f"static efficiency of {100 * run.efficiency:.0f} % in {run.words}",
        "at most 45 %",
        cause="a wrong unit of flow, pressure or current",
        test="multiply volts and amps by hand for one point; look at the units in the export",
    )


def outside_nozzle_window(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 22: pressure across the nozzles too small to be read well."""
    drop = run.read.get("nozzle_pressure")
    if drop is None or len(run.nozzles) != len(drop):
        return
    opened = np.array([bool(each) for each in run.nozzles])
    own = 2.0 * np.divide(run.own_flow, np.abs(run.flow), out=np.zeros_like(drop), where=run.flow != 0.0)
    low = opened & (drop * (1.0 + 2.0 * own) < LEAST_DROP)
    if not low.any():
        return
    first = int(np.flatnonzero(low)[0])
    yield _finding(
        22,
        run,
        context,
        f"{int(low.sum())} of {len(drop)} points of {run.words} at less than 25 Pa across the nozzles, down to"
        f" {float(drop[low].min()):.1f} Pa",
        "25 Pa at least",
        severity=Severity.MARKS if low.sum() <= 2 else Severity.BLOCKS,
        cause="too large a nozzle for so little flow",
        test="close the larger nozzle and read the point again",
        line=run.lines[first],
    )


RUN_RULES = (
    sweep_off_the_curve,
    held_points,
    optical_disagrees,
    supply_voltage,
    too_efficient,
    outside_nozzle_window,
)
