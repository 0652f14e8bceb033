"""Rule 35: the air that goes in: its drift, the difference between its probes, its temperature, opened doors."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import KELVIN, WarmMounting
from stillroom.quality.heat.saying import BLOCKS, about_heat, steps_in
from stillroom.quality.heat.settling import DOOR
from stillroom.records.limits import Limits

EXPANDED = 2.0
"""Probes that read no further apart than so many standard uncertainties of their difference may read the same air [1]
(a coverage of 95 %, JCGM 100:2008, 6.2.1)."""

MOST_DIGITS = 4

UNZEROED = " of probes that were not in one bath"


def surroundings(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """What speaks against the air of a mounting's steps."""
    yield from _drift(mounting, limits)
    yield from _spread(mounting, limits)
    yield from _temperature(mounting, limits)
    yield from _gusts(mounting)


def _drift(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    steps = [each for each in mounting.seen if abs(each.air_drift) > limits.air_drift]
    if steps:
        worst = max(steps, key=lambda each: abs(each.air_drift))
        yield about_heat(
            35, mounting, "drift",
            f"{steps_in(mounting, steps)}: the air going in drifted by "
            f"{beyond(worst.air_drift, limits.air_drift, '+')} K while it was averaged",
            f"{limits.air_drift:g} K at most", severity=BLOCKS,
            cause="the room's air conditioning switched, the sun came in, or the fan's warm air goes round",
            test="hold a strip of paper before the radiator: does warm air come back to the probes?",
            common="the air going in drifts",
        )  # fmt: skip


def apart_at_most(limits: Limits, u_apart: float) -> float:
    """What probes of the air may read apart [K]: the limit, or what isn't known better of their difference, whole
    hundredths of it.
    """
    return max(limits.air_spread, math.ceil(100.0 * EXPANDED * u_apart) / 100.0)


def beyond(value: float, limit: float, sign: str = "") -> str:
    """A value beyond a limit, with as many digits, from one on, as show that it is."""
    for digits in range(1, MOST_DIGITS):
        shown = f"{value:{sign}.{digits}f}"
        if abs(float(shown)) > abs(limit):
            return shown
    return f"{value:{sign}.{MOST_DIGITS}f}"


def _spread(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    limit = apart_at_most(limits, mounting.u_apart)
    steps = [each for each in mounting.seen if each.air_spread is not None and each.air_spread > limit]
    if steps:
        worst = max(each.air_spread or 0.0 for each in steps)
        yield about_heat(
            35, mounting, "spread",
            f"{steps_in(mounting, steps)}: the probes of the air going in read up to {beyond(worst, limit)} K"
            " apart",
            f"{limit:g} K at most" + (UNZEROED if limit > limits.air_spread else ""), severity=BLOCKS,
            cause="an air probe hangs in the warmed air or touches something warm",
            test="pull each air probe clear by a hand's breadth and watch which one changes",
            common="air probes apart",
        )  # fmt: skip


def _temperature(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    steps = [each for each in mounting.seen if not limits.air_low <= each.air - KELVIN <= limits.air_high]
    if steps:
        farthest = max(
            steps, key=lambda each: abs(each.air - KELVIN - 0.5 * (limits.air_low + limits.air_high))
        )
        yield about_heat(
            35, mounting, "temperature",
            f"{steps_in(mounting, steps)}: the air going in has {farthest.air - KELVIN:.1f} °C",
            f"{limits.air_low:g} to {limits.air_high:g} °C", cause="the room is too warm or too cold",
            test="read the room's thermometer away from the rig", common="room outside its range",
        )  # fmt: skip


def _gusts(mounting: WarmMounting) -> Iterator[Finding]:
    if mounting.gusts:
        worst = max(mounting.gusts, key=lambda each: abs(each.depth))
        out = any(each.left_out > 0.0 for each in mounting.steps if each.number == worst.step)
        times = f"{len(mounting.gusts)} times, at most" if len(mounting.gusts) > 1 else "once,"
        yield about_heat(
            35, mounting, "gust",
            f"the air going in of {mounting.name} changed {times} by {worst.depth:+.1f} K for"
            f" {worst.last - worst.first:.0f} s (step {worst.step})"
            + ("; these readings were left out" if out else ""),
            "air that keeps still", cause=DOOR, test="close the door, and hang a sign on it", common=DOOR,
        )  # fmt: skip
