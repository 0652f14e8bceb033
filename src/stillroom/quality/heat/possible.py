"""Rule 44 for heat: what no radiator and no fan can do."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from stillroom.core.fanlaws import STANDARD_DENSITY
from stillroom.core.heat.exchanger import least_rise
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmMounting, step_words
from stillroom.quality.heat.saying import BLOCKS, about_heat, steps_in
from stillroom.quality.saying import rpm
from stillroom.records.limits import Limits

FLOW_U = 0.05
"""Relative standard uncertainty with which the airflow rig tells the flow on the heat rig [1] (common practice)."""

FASTER, LESS_POWER = 1.05, 0.95
"""A fan that is so much faster takes more power; less than this share of it can't be."""

WARMER = 0.3
"""A faster fan is not warmer by more than this and twice the uncertainty [K] (common practice)."""


def possible(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """What is physically impossible in a mounting's steps."""
    del limits
    yield from _not_warmer_than_air(mounting)
    yield from _more_than_the_air_takes(mounting)
    yield from _power_falling(mounting)
    yield from _warmer_when_faster(mounting)


def _not_warmer_than_air(mounting: WarmMounting) -> Iterator[Finding]:
    steps = [each for each in mounting.steps if each.delta <= 0.0 and each.power > 0.0 and each.is_result]
    if steps:
        yield about_heat(
            44, mounting, "sign",
            f"{steps_in(mounting, steps)}: the hot probe reads {steps[0].delta:.1f} K over the air",
            "warmer than the air", severity=BLOCKS, cause="the hot probe and an air probe are exchanged",
            test="hold the hot probe between two fingers and see which column moves", common="probes exchanged",
        )  # fmt: skip


def _more_than_the_air_takes(mounting: WarmMounting) -> Iterator[Finding]:
    """ΔT under P/C_air: the air would leave hotter than the liquid is."""
    found = [(each, least) for each in mounting.steps if (least := _least(mounting, each)) is not None]
    steps = [each for each, least in found if 0.0 < each.delta < least * (1.0 - 2.0 * FLOW_U)]
    if steps:
        worst = steps[0]
        least = _least(mounting, worst) or 0.0
        yield about_heat(
            44, mounting, "least", f"{steps_in(mounting, steps)}: {worst.delta:.1f} K over the air, while the air"
            f" that the fan moves warms up by {least:.1f} K",
            f"at least P/C_air, {least:.1f} K",
            severity=BLOCKS,
            cause="part of the heat goes another way, the hot probe doesn't touch, or the airflow is that of another"
            " radiator or number of fans",
            test="press the hot probe to its place; feel where else the loop is warm; count the fans on the radiator",
            common="cooler than the air allows",
        )  # fmt: skip


def _least(mounting: WarmMounting, step: HeatStep) -> float | None:
    flow = mounting.airflows.get(step.number)
    if not flow or not step.power > 0.0 or not step.is_result:
        return None
    return least_rise(step.power, flow, STANDARD_DENSITY)


def _by_speed(mounting: WarmMounting) -> list[HeatStep]:
    known = [each for each in mounting.steps if each.is_result and each.speed]
    return sorted(known, key=lambda each: each.speed or 0.0)


def _power_falling(mounting: WarmMounting) -> Iterator[Finding]:
    known = [each for each in _by_speed(mounting) if each.fan_power]
    for slow, fast in itertools.combinations(known, 2):
        if (fast.speed or 0.0) > FASTER * (slow.speed or 0.0) and (fast.fan_power or 0.0) < LESS_POWER * (
            slow.fan_power or 0.0
        ):
            yield about_heat(
                44, mounting, "power",
                f"{mounting.name}: the fan takes {slow.fan_power:.2f} W at {rpm(slow.speed or 0.0)} and"
                f" {fast.fan_power:.2f} W at {rpm(fast.speed or 0.0)}",
                "more power at more speed", severity=BLOCKS,
                cause="the ammeter's range, or a step under another setting's name",
                test="read the current at both settings once more", common="power falls as the speed rises",
            )  # fmt: skip
            return


def _warmer_when_faster(mounting: WarmMounting) -> Iterator[Finding]:
    for slow, fast in itertools.combinations(_by_speed(mounting), 2):
        over = fast.delta_nominal - slow.delta_nominal
        sure = WARMER + 2.0 * (fast.u_own + slow.u_own)
        if (fast.speed or 0.0) > FASTER * (slow.speed or 0.0) and over > sure:
            yield about_heat(
                44, mounting, "warmer",
                f"{mounting.name}: {over:+.1f} K at {rpm(fast.speed or 0.0)} against {rpm(slow.speed or 0.0)}",
                "cooler at more speed", severity=BLOCKS,
                cause=f"the coolant's flow, the heater or a probe changed between {step_words(slow)} and"
                f" {step_words(fast)}, or a step stands under another setting's name",
                test="repeat the slower setting now", common="warmer at more speed",
            )  # fmt: skip
            return
