"""Rules 36, 37 and 38: the heat put in, the heat that the liquid carries, and the liquid's flow and age."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmMounting
from stillroom.quality.heat.saying import BLOCKS, MARKS, about_heat, percent, steps_in
from stillroom.records.limits import Limits

DAY = 86_400.0

FLOW_LOW = "the loop lost coolant, or air is in it"

BALANCE_SD, STEPS = 0.01, 3
"""Standard deviation of the balance from step to step [1]: the liquid's rise is but some kelvin (common practice);
and how many steps a run of the reference fan has.
"""

OLD = 2.0
"""Coolant of more than twice the age that marks blocks."""


def loads(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """What speaks against the heat and the liquid of a mounting's steps."""
    yield from _wandering(mounting, limits)
    yield from _not_normalised(mounting, limits)
    yield from _balance(mounting, limits)
    yield from _shifted(mounting, limits)
    yield from _liquid_flow(mounting, limits)
    yield from _age(mounting, limits)


def _wandering(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 36: the heater's power over the window."""
    steps = [each for each in mounting.seen if _wander(each) > limits.heater_sd]
    if steps:
        yield about_heat(
            36, mounting, "wandering",
            f"{steps_in(mounting, steps)}: the heater's power varies by {100 * max(map(_wander, steps)):.1f} %"
            " (standard deviation)",
            f"{100 * limits.heater_sd:g} % at most", severity=BLOCKS,
            cause="the heater's supply is not regulated, or follows the mains",
            test="read the supply's volts for a minute; put it on a regulated supply",
            common="the heater's load wanders",
        )  # fmt: skip


def _wander(step: HeatStep) -> float:
    return step.power_sd / step.power if step.power > 0.0 else 0.0


def _not_normalised(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 36: without a reading of the power nothing brings the rise to nominal."""
    unread = [each for each in mounting.steps if each.is_result and not each.power > 0.0]
    if unread:
        yield about_heat(
            36, mounting, "not read", f"{steps_in(mounting, unread)}: the heater's power was not read",
            f"volts and amps, or watts: {100 * limits.heater_mean:g} % of power is as much of the rise",
            cause="no column of it in the logs", test="read the heater's volts and amps once and write them down",
            common="the heater's power was not read",
        )  # fmt: skip


def _balance(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 37: heat by the liquid against heat put in."""
    steps = [
        each for each in mounting.steps if each.is_result and each.balance is not None and _off(each, limits)
    ]
    if not steps:
        return
    worst = max(steps, key=lambda each: abs((each.balance or 1.0) - 1.0))
    ratio = worst.balance or 1.0
    cause, test = _why(ratio)
    yield about_heat(
        37, mounting, "balance",
        f"{steps_in(mounting, steps)}: the liquid carries {percent(ratio - 1.0)} against the heat put in",
        f"within {100 * max(limits.heat_balance, 2.0 * (worst.u_balance or 0.0)):.0f} %", severity=BLOCKS,
        cause=cause, test=test, common=cause,
    )  # fmt: skip


def _off(step: HeatStep, limits: Limits) -> bool:
    return abs((step.balance or 1.0) - 1.0) > max(limits.heat_balance, 2.0 * (step.u_balance or 0.0))


def _why(ratio: float) -> tuple[str, str]:
    if ratio <= 0.0:
        return (
            "the probes of the liquid going in and coming out are exchanged",
            "touch both hoses: the hotter one goes into the radiator",
        )
    if ratio < 1.0:
        return (
            "the flow meter reads too little, or heat leaves before the radiator",
            "catch the coolant in a jug for a minute and weigh it; feel the hoses and the heater's insulation",
        )
    return (
        "the flow meter reads too much, or the heater gives more than is read",
        "catch the coolant in a jug for a minute and weigh it; read the heater's volts at its terminals",
    )


def _shifted(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 37: against the balance of the reference day, in which what a meter always reads wrongly cancels."""
    if mounting.balance is None:
        return
    usual, day = mounting.balance
    known = [
        each.balance for each in mounting.steps if each.is_result and each.balance and not _off(each, limits)
    ]
    if not known:
        return
    shift = float(np.mean(known)) / usual - 1.0
    sure = 2.0 * BALANCE_SD * math.sqrt(1.0 / len(known) + 1.0 / STEPS)
    if abs(shift) > max(limits.heat_balance_shift, sure):
        yield about_heat(
            37, mounting, "shift",
            f"{mounting.name}: the heat balance moved by {percent(shift)} since the reference fan's run on {day}",
            f"within {100 * max(limits.heat_balance_shift, sure):.1f} %", severity=BLOCKS,
            cause="the flow meter, a probe of the liquid or the heater's reading moved",
            test="run the reference fan once more; catch the coolant in a jug for a minute",
            common="heat balance moved since the reference day",
        )  # fmt: skip


def _liquid_flow(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 38: the liquid's flow against what is set."""
    usual = mounting.liquid_flow
    if usual is None:
        return
    steps = [
        each
        for each in mounting.seen
        if each.liquid_flow is not None and abs(each.liquid_flow / usual - 1.0) > limits.coolant_flow
    ]
    if steps:
        worst = max(steps, key=lambda each: abs((each.liquid_flow or usual) / usual - 1.0))
        share = (worst.liquid_flow or usual) / usual - 1.0
        yield about_heat(
            38, mounting, "flow",
            f"{steps_in(mounting, steps)}: the coolant's flow is {percent(share)} from the"
            f" {usual * 60_000:.2f} l/min that is set",
            f"within {100 * limits.coolant_flow:g} %", severity=BLOCKS,
            cause=FLOW_LOW if share < 0.0 else "the pump or its valve was set otherwise",
            test="look at the level in the reservoir and for bubbles; top it up and note it"
            if share < 0.0 else "read the pump's setting",
            common="coolant flow low" if share < 0.0 else "coolant flow high",
        )  # fmt: skip


def _age(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 38: the age of the filling."""
    age = mounting.coolant_age
    if age is None or age <= limits.coolant_age * DAY or not mounting.steps:
        return
    old = age > OLD * limits.coolant_age * DAY
    yield about_heat(
        38, mounting, "age",
        f"the coolant of {mounting.rig or 'the heat rig'} was {age / DAY:.0f} days old when {mounting.name} was run",
        f"{limits.coolant_age:g} days at most", severity=BLOCKS if old else MARKS,
        cause="the filling was not renewed: it thickens, and its channels clog",
        test="look at its colour; flush and fill it, note it, and run the reference fan before and after",
        common="coolant too old",
    )  # fmt: skip
