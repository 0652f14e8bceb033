"""Rules that look at one run as it was read, of a fan or of an obstacle: what rig and physics admit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.room_air import STANDARD_VISCOSITY
from stillroom.quality.causes import cause_of
from stillroom.quality.facts import ReadingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import FEW, RunContext, about_run, listed, mark_or_block

NOMINAL_VOLTAGE = 12.0
SPECIFIED = 0.05
SLOW = 10.0
"""Below this speed the wider limit of unsteadiness holds [1/s]: 600 rpm."""


def unsteady_speed(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 19: the logger's own coefficient of variation of the speed is too large."""
    variation = run.read.get("speed_variation")
    if variation is None:
        return
    limits = context.limits
    usual, slow = limits.speed_unsteady, limits.slow_speed_unsteady
    limit = np.full_like(variation, usual) if run.speed is None else np.where(run.speed < SLOW, slow, usual)
    odd = np.flatnonzero(variation > limit)
    if not len(odd):
        return
    worst = int(odd[np.argmax(variation[odd])])
    yield about_run(
        19, run, context,
        f"the speed varies by up to {100 * variation[worst]:.2f} % at {len(odd)} of {len(variation)} points of"
        f" {run.words}",
        f"{100 * usual:g} % at most, {100 * slow:g} % below 600 rpm",
        severity=mark_or_block(len(odd)), cause="the setting isn't held, or the fan had not settled",
        test="watch the speed for a minute at one setting; wait until it stands", line=run.lines[worst],
    )  # fmt: skip


def hunting(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 27: the logger's own coefficient of variation of pressure or flow is too large."""
    odd = np.zeros(len(run.flow), dtype=bool)
    worst = 0.0
    for name, values in (("pressure_variation", run.pressure), ("flow_variation", run.flow)):
        variation = run.read.get(name)
        if variation is None:
            continue
        # where nearly nothing is read, a share of it says nothing
        read = np.abs(values) > 0.05 * float(np.abs(values).max())
        odd |= read & (variation > context.limits.hunting)
        worst = max(worst, float(variation[read].max(initial=0.0)))
    if odd.any():
        yield about_run(
            27, run, context, f"stall/unsteady: pressure or flow varies by up to {100 * worst:.1f} % in"
            f" {run.words}, {band(run.flow[odd])}",
            f"{100 * context.limits.hunting:g} % at most", severity=Severity.MARKS,
            cause="the flow separates and finds no equilibrium there",
            test="hold the throttle for two minutes and watch the gauge: it swings or it doesn't",
            line=run.lines[int(np.flatnonzero(odd)[0])], common="the flow finds no equilibrium",
        )  # fmt: skip


def band(flow: Array) -> str:
    """A range of flows in words."""
    low, high = 3600 * float(flow.min()), 3600 * float(flow.max())
    return f"at {low:.1f} m³/h" if high - low < 0.05 else f"from {low:.1f} to {high:.1f} m³/h"


def zero_readings(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 26: the zeros that were read before and after the run differ."""
    before, after = _zero(run, "pressure_zero", first=True), _zero(run, "pressure_zero_after", first=False)
    if before is None or after is None:
        return
    gauge = context.gauges.get("static_pressure") or context.gauges.get("resistance_pressure")
    step = (gauge.resolution or 0.0) if gauge else 0.0
    limit = max(context.limits.zero_drift, 2.0 * np.hypot(step, step) / np.sqrt(12.0))
    if abs(after - before) <= limit:
        return
    small = float(np.abs(run.pressure).max())
    yield about_run(
        26, run, context,
        f"the pressure zero moved from {before:.2f} to {after:.2f} Pa during {run.words}:"
        f" {100 * abs(after - before) / small:.1f} % of its greatest pressure",
        f"{limit:.2g} Pa at most", cause="the gauge drifts with temperature or position, or water in a tube",
        test="stop the fan, join both tubes: the gauge must read 0 Pa; zero it and repeat the run",
        common="the pressure zero moved",
    )  # fmt: skip


def _zero(run: ReadingFacts, column: str, *, first: bool) -> float | None:
    """The zero as written beside the run, else as its file's column has it at its first or last point."""
    told = run.beside.zero_before if first else run.beside.zero_after
    if told is not None:
        return told
    values = run.read.get(column)
    if values is None and not first:
        values = run.read.get("pressure_zero")
    if values is None or not len(values):
        return None
    return float(values[0] if first else values[-1])


def beyond_calibration(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 2: readings above all ranges of an instrument's calibration, as the reduction says."""
    said = [mark for mark in run.marks if mark.endswith("read beyond its calibration")]
    if said:
        yield about_run(
            2, run, context, f"{listed(said)} in {run.words}", "readings within the ranges of the calibration",
            severity=Severity.MARKS, cause="a larger pressure or flow than the instrument was calibrated for",
            test="have it calibrated further, or read with the next larger range", common="beyond a calibration",
        )  # fmt: skip


LEAST_REYNOLDS, COEFFICIENT = 5_000.0, 0.95
"""Below this Re of its throat a nozzle's coefficient is no longer used; about the coefficient there [1]."""


def far_below_reynolds(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 23: points at which an open nozzle's throat has so small a Reynolds number that nothing is known of it."""
    if len(run.nozzles) != len(run.flow) or not context.bores:
        return
    bores = [[context.bores[name] for name in names if name in context.bores] for names in run.nozzles]
    reynolds = np.array(
        [_throat(flow, each, run.density) for flow, each in zip(run.flow, bores, strict=True)]
    )
    low = np.flatnonzero((reynolds > 0.0) & (reynolds < LEAST_REYNOLDS))
    if len(low):
        yield about_run(
            23, run, context,
            f"{len(low)} of {len(run.flow)} points of {run.words} through a nozzle at Re down to"
            f" {float(reynolds[low].min()):.0f}",
            f"{LEAST_REYNOLDS:,.0f} at least", severity=mark_or_block(len(low)),
            cause="too large a nozzle for so little flow", test="close the larger nozzle and read the point again",
            line=run.lines[int(low[0])],
        )  # fmt: skip


def _throat(flow: float, bores: Sequence[float], density: float) -> float:
    """Reynolds number of the smallest open nozzle [1], 0 where none is open: all have one throat velocity."""
    area = np.pi / 4.0 * sum(bore**2 for bore in bores)
    if area == 0.0:
        return 0.0
    return max(0.0, flow) / (COEFFICIENT * area) * min(bores) * density / STANDARD_VISCOSITY


def outside_nozzle_window(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 22: pressure across the nozzles too small to be read well, or beyond the gauge's span."""
    drop = run.read.get("nozzle_pressure")
    if drop is None or len(run.nozzles) != len(drop):
        return
    gauge = context.gauges.get("nozzle_pressure")
    step, span = (gauge.resolution or 0.0, gauge.span) if gauge else (0.0, None)
    least = max(context.limits.nozzle_pressure, context.limits.nozzle_resolutions * step)
    opened = np.array([bool(each) for each in run.nozzles])
    own = 2.0 * np.divide(run.own_flow, np.abs(run.flow), out=np.zeros_like(drop), where=run.flow != 0.0)
    low = opened & (drop * (1.0 + 2.0 * own) < least)
    high = opened & (drop > span) if span else np.zeros_like(low)
    if low.any():
        yield about_run(
            22, run, context,
            f"{int(low.sum())} of {len(drop)} points of {run.words} at less than {least:g} Pa across the"
            f" nozzles, down to {float(drop[low].min()):.1f} Pa",
            f"{least:g} Pa at least", severity=mark_or_block(int(low.sum())),
            cause="too large a nozzle for so little flow", test="close the larger nozzle and read the point again",
            line=run.lines[int(np.flatnonzero(low)[0])],
        )  # fmt: skip
    elif high.any() and span:
        yield about_run(
            22, run, context,
            f"{int(high.sum())} of {len(drop)} points of {run.words} beyond the gauge's span of {span:g} Pa, up"
            f" to {float(drop[high].max()):.0f} Pa",
            f"{span:g} Pa at most", severity=mark_or_block(int(high.sum())),
            cause="too small a nozzle for so much flow", test="open the next larger nozzle and read the point again",
            line=run.lines[int(np.flatnonzero(high)[0])],
        )  # fmt: skip


def supply_voltage(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 21: a 4-wire fan is measured at 12 V; its speed follows the duty, not the supply."""
    volts = run.read.get("voltage")
    if volts is None or context.wires != 4 or run.setting_kind == "volts":
        return
    off = volts - NOMINAL_VOLTAGE
    worst = int(np.argmax(np.abs(off)))
    if abs(off[worst]) <= context.limits.supply_voltage:
        return
    yield about_run(
        21, run, context, f"{volts[worst]:.2f} V in {run.words}",
        f"12 V ± {context.limits.supply_voltage:g} V at the connector",
        severity=Severity.BLOCKS if abs(off[worst]) > SPECIFIED * NOMINAL_VOLTAGE else Severity.MARKS,
        cause="voltage lost in the cable, or the supply set by its own display",
        test="measure the voltage at the fan's connector", line=run.lines[worst], common="supply voltage",
    )  # fmt: skip


def optical_disagrees(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 20: tachometer and optical tachometer both read, and unlike."""
    optical = run.read.get("optical_speed")
    if optical is None or run.speed is None or not (optical > 0.0).all():
        return
    ratio = float(np.median(run.speed / optical))
    if abs(ratio - 1.0) <= context.limits.optical_speed:
        return
    known = cause_of("speed", ratio, within=0.01)
    yield about_run(
        20, run, context,
        f"the tachometer wire reads {ratio:.3f} of the optical tachometer in {run.words}",
        f"the same within {100 * context.limits.optical_speed:g} %",
        cause=known.words if known else "one of the two lost its signal, or the tape slipped",
        test="read both once more at a steady setting",
    )  # fmt: skip


def far_from_nominal(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 30: points whose speed is far from the one that the sweep stands under."""
    if run.setting_kind != "speed" or run.speed is None or not run.setting:
        return
    off = np.abs(run.speed / run.setting - 1.0)
    odd = off > context.limits.speed_correction
    if not odd.any():
        return
    worst = int(np.argmax(off))
    yield about_run(
        30, run, context,
        f"{int(odd.sum())} of {len(off)} points of {run.words} were read at up to {100 * off[worst]:.1f} % from"
        f" it ({60 * run.speed[worst]:,.0f} rpm)",
        f"within {100 * context.limits.speed_correction:g} %; report them at their own speed",
        severity=mark_or_block(int(odd.sum())),
        cause="the speed was not held while the load changed, or the file stands under another setting",
        test="set the speed again at the last point; look at the name of the file", line=run.lines[worst],
    )  # fmt: skip


def impossible_air(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 31: a wet bulb that is warmer than the dry one."""
    wet, dry = run.read.get("wet_bulb_temperature"), run.read.get("temperature")
    if wet is None or dry is None:
        return
    above = wet > dry + 0.1
    if above.any():
        yield about_run(
            31, run, context,
            f"wet bulb above dry bulb at {int(above.sum())} of {len(above)} points of {run.words}",
            "a wet bulb at or below the dry one", severity=mark_or_block(int(above.sum())),
            cause="the two columns are swapped" if above.sum() > FEW else "a wick that ran dry",
            test="read both thermometers; wet the wick",
        )  # fmt: skip


def short_warm_up(run: ReadingFacts, context: RunContext) -> Iterator[Finding]:
    """Rule 43: less time at the setting than a fan needs, where it was written down."""
    waited, least = run.beside.warm_up, context.limits.warm_up * 60.0
    if waited is not None and waited < least:
        yield about_run(
            43, run, context, f"{waited / 60:g} min at the setting before {run.words}",
            f"{context.limits.warm_up:g} min at least", severity=Severity.MARKS,
            cause="bearing and coil were still getting warm", test="repeat the first point after ten minutes",
            common="warm-up too short",
        )  # fmt: skip


READING_RULES: tuple[Callable[[ReadingFacts, RunContext], Iterator[Finding]], ...] = (
    unsteady_speed,
    hunting,
    zero_readings,
    outside_nozzle_window,
    beyond_calibration,
    far_below_reynolds,
    supply_voltage,
    optical_disagrees,
    far_from_nominal,
    impossible_air,
    short_warm_up,
)
