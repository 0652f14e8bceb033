"""Rules 39, 40 and 41 for heat: the repeat of a setting, how often a fan was mounted, mountings that disagree."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence

import numpy as np
import scipy

from stillroom.core.characteristic import Part
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmFan, WarmMounting, step_words
from stillroom.quality.heat.saying import BLOCKS, MARKS, about_heat, percent, warm_key
from stillroom.quality.heat.settling import CUT, was_cut
from stillroom.quality.saying import about_fan, listed
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits

SAME_SPEED = 0.01
"""Speeds within this are one setting where none was told [1]."""

SURELY = 4.0
"""Standard deviations from which a repeat blocks, as for airflow and sound: less only marks."""

SURELY_APART = 5.0
"""Mountings that differ by more than so many s_r block, as for airflow and sound."""

BETWEEN_DAYS = 0.1
"""Standard deviation between days of one rig [K] (common practice): its air, its coolant, its load."""

BY_FLOW = 0.01
"""Liquid flows that differ by this much may be the cause of a difference [1]."""


def repeats(fan: WarmFan) -> Iterator[Finding]:
    """Rule 39: the first setting once more at the end: by sample, always, or never, as the lab has it."""
    without: dict[str, list[str]] = defaultdict(list)
    repeated: set[str] = set()
    for mounting in fan.mountings:
        steps = [each for each in mounting.over if each.is_result]
        if mounting.is_running or not steps:
            continue
        pairs = repeated_steps(steps)
        if not pairs:
            without[mounting.sample].append(mounting.name)
        else:
            repeated.add(mounting.sample)
        for first, last in pairs:
            yield from _repeat(fan, mounting, first, last)
    yield from _unrepeated(fan, without, repeated)


def repeated_steps(steps: Sequence[HeatStep]) -> list[tuple[HeatStep, HeatStep]]:
    """The first and the last step of each setting that was run twice."""
    groups: dict[object, list[HeatStep]] = defaultdict(list)
    for step in steps:
        groups[_setting(step, steps)].append(step)
    return [(own[0], own[-1]) for own in groups.values() if len(own) > 1]


def _setting(step: HeatStep, steps: Sequence[HeatStep]) -> object:
    """By what a setting is known again: as it was told, else the first step of its speed."""
    if step.setting is not None:
        return step.setting_kind, round(step.setting, 3)
    if step.speed is None:
        return step.number
    near = [each.number for each in steps if each.speed and abs(each.speed / step.speed - 1.0) < SAME_SPEED]
    return min(near)


def _unrepeated(fan: WarmFan, without: dict[str, list[str]], repeated: set[str]) -> Iterator[Finding]:
    if fan.repeat == "never" or fan.is_reference:
        return
    names = [
        name
        for sample, mountings in without.items()
        if fan.repeat == "always" or sample not in repeated
        for name in (mountings if fan.repeat == "always" else mountings[-1:])
    ]
    if names:
        once = "each mounting" if fan.repeat == "always" else "one mounting of each sample"
        yield about_fan(
            39, fan.name, key_of("repeat", warm_key(fan)), f"no setting was run again at the end of {listed(names)}",
            f"the first setting once more at the end of {once}", cause="drift within a mounting goes unseen",
            test="run the first setting again before the fan is taken off (20 minutes)",
            common="no setting was run again",
        )  # fmt: skip


def _repeat(fan: WarmFan, mounting: WarmMounting, first: HeatStep, last: HeatStep) -> Iterator[Finding]:
    moved = last.delta_nominal - first.delta_nominal
    sd = math.hypot(first.u_own, last.u_own)
    limit = max(fan.limits.repeat_heat, 2.0 * sd)
    if abs(moved) <= limit:
        return
    cause, test = _what_moved(first, last, moved, fan.limits)
    yield about_heat(
        39, mounting, f"repeat {first.number}",
        f"the repeat of {step_words(first)} of {mounting.name} reads {moved:+.2f} K",
        f"within {limit:.2f} K",
        severity=BLOCKS if abs(moved) > max(fan.limits.repeat_heat, SURELY * sd) else MARKS,
        cause=cause, test=test, common="the first setting doesn't repeat",
    )  # fmt: skip


def _what_moved(first: HeatStep, last: HeatStep, moved: float, limits: Limits) -> tuple[str, str]:
    """The probable cause of a difference between two steps at one setting."""
    cut = [each for each in (first, last) if was_cut(each, limits)]
    if (
        first.speed
        and last.speed
        and -0.45 * math.log(last.speed / first.speed) * last.delta_nominal > 0.7 * moved > 0
    ):
        return (
            f"the fan turned {percent(last.speed / first.speed - 1.0)} faster or slower",
            "read the supply's volts",
        )
    if first.liquid_flow and last.liquid_flow and abs(last.liquid_flow / first.liquid_flow - 1.0) > BY_FLOW:
        share = last.liquid_flow / first.liquid_flow - 1.0
        return f"the coolant's flow changed by {percent(share)}", "look at the level in the reservoir"
    if cut:
        return CUT, "run it once more, until the rig says steady"
    return (
        "a probe, the fan's seal or the heater's reading moved",
        "press the hot probe; feel for leaks at the frame",
    )


def few_mountings(fan: WarmFan) -> Iterator[Finding]:
    """Rule 40."""
    counts: dict[str, int] = defaultdict(int)
    for each in fan.mountings:
        counts[each.rig] += any(step.is_result for step in each.steps) and not each.is_running
    count = max(counts.values(), default=0)
    least = fan.limits.contender_mountings if fan.contends else fan.limits.mountings
    if 0 < count < least:
        times = {1: "once", 2: "twice"}.get(count, f"{count} times")
        contends = " and contends for the lead" if fan.contends else ""
        yield about_fan(
            40, fan.name, warm_key(fan), f"{fan.name} was mounted on the heat rig {times}{contends}",
            f"{least:g} mountings at least", test="mount it once more on another day",
            common=f"heat of fewer than {least:g} mountings",
        )  # fmt: skip


def disagreeing(fan: WarmFan, blocked: Collection[str]) -> Iterator[Finding]:
    """Rule 41: mountings of one sample that nothing else speaks against, at the same speeds.

    Of two, one is doubtful; of three or more, each is held against the middle of the others. Eras of a rig are held
    apart: what differs between them is for a bridge to tell.
    """
    groups: dict[tuple[str, str, str, int], list[WarmMounting]] = defaultdict(list)
    for each in fan.mountings:
        if each.curve is not None and each.blocked_as not in blocked:
            groups[each.sample, each.rig, each.radiator, each.era].append(each)
    for group in groups.values():
        doubted = group[1:] if len(group) == 2 else group if len(group) > 2 else []
        for each in doubted:
            yield from _apart(fan, each, [other for other in group if other is not each])


def _apart(fan: WarmFan, one: WarmMounting, others: Sequence[WarmMounting]) -> Iterator[Finding]:
    """Whether a mounting lies further from the middle of others than mountings do."""
    pairs = [(other, *pair) for other in others if (pair := _difference(other, one)) is not None]
    if not pairs:
        return
    apart = float(np.median([each[1] for each in pairs]))
    other, _, u = min(pairs, key=lambda each: abs(each[1] - apart))
    days = 0.0 if one.date == other.date else BETWEEN_DAYS
    sd = math.sqrt((fan.spread**2 + days**2) * (1.0 + 1.0 / len(pairs)) + u**2)
    # the repeatability limit is that of a pair; of many mountings the farthest lies farther out
    several = float(scipy.special.ndtri(1.0 - 0.025 / (len(pairs) + 1))) if len(pairs) > 1 else 0.0
    limit = max(fan.limits.replicates / math.sqrt(2.0), several) * sd
    far = sum(abs(each[1]) > limit for each in pairs)
    if abs(apart) <= limit or 2 * far <= len(pairs):
        return
    alone = len(pairs) == 1
    doubtful, cause, test = _which(one, other, apart, alone=alone, limits=fan.limits)
    surely = max(SURELY_APART / math.sqrt(2.0) * sd, 1.2 * limit)
    yield about_heat(
        41, doubtful, f"replicate {one.name}",
        f"{one.name} is {apart:+.2f} K from {other.name if alone else f'the middle of {len(pairs)} other mountings'}"
        " at the same speeds, of the same sample",
        f"within {limit:.2f} K" + (f" ({fan.limits.replicates:g} s_r)" if alone else ""),
        severity=BLOCKS if abs(apart) > surely else MARKS, cause=cause, test=test,
        common="mountings of one sample disagree",
    )  # fmt: skip


def _difference(first: WarmMounting, second: WarmMounting) -> tuple[float, float] | None:
    """Second less first, mean over the speeds that both measured, and its own standard uncertainty [K]."""
    one, other = first.curve, second.curve
    if one is None or other is None:
        return None
    low, high = max(one.reach[0], other.reach[0]), min(one.reach[1], other.reach[1])
    inner = max(one.measured[0], other.measured[0]), min(one.measured[1], other.measured[1])
    if inner[0] <= inner[1]:
        low, high = inner
    if low > high:
        return None
    speeds = np.geomspace(low, high, 5) if high > low else np.array([low])
    differences = [curve.rows(Part.CENTRAL, speeds=speeds)[0] for curve in (one, other)]
    own = [float(min(each.u for each in curve.points)) for curve in (one, other)]
    return float(np.mean(differences[1] - differences[0])), math.hypot(*own)


def _which(
    one: WarmMounting, other: WarmMounting, apart: float, *, alone: bool, limits: Limits
) -> tuple[WarmMounting, str, str]:
    """Which of two is doubtful, the probable cause, and a test; `apart` is one less other [K].

    Parameters
    ----------
    alone : whether there are but these two; else the others agree, and it is the first.
    """
    for each in (one, other) if alone else (one,):
        if any(was_cut(step, limits) for step in each.steps):
            return each, CUT, "run it once more, until the rig says steady"
    flows = [
        np.mean([step.liquid_flow for step in each.steps if step.liquid_flow] or [np.nan])
        for each in (one, other)
    ]
    share = float(flows[0] / flows[1]) - 1.0
    if np.isfinite(share) and abs(share) > BY_FLOW and (share < 0.0) == (apart > 0.0):
        return one if share < 0.0 or not alone else other, f"the coolant's flow differed by {percent(share)}", (
            "look at the level in the reservoir and in the log")  # fmt: skip
    cause = "the fan sat otherwise on the radiator, or a probe moved"
    if not alone:
        return one, f"{cause}: the others agree", "mount it once more; press the hot probe, look at the seal"
    return one, cause, "mount it a third time; press the hot probe, look at the frame's seal"
