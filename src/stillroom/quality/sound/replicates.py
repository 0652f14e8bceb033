"""Rules 39, 40, 41 and 43 for sound: the repeat of a setting, how often a fan was mounted, mountings that disagree."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import Any

import numpy as np

from stillroom.quality.finding import Finding
from stillroom.quality.saying import about_fan, listed
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts
from stillroom.quality.sound.saying import (
    BLOCKS,
    MARKS,
    about_recording,
    about_sound,
    heard_key,
)
from stillroom.records.keys import key_of

SAME_SETTING = 1e-3

SURELY = 4.0
"""Standard deviations from which a repeat blocks, as for airflow: less only marks."""

SURELY_APART = 5.0
"""Mountings that differ by more than so many s_r block, as for airflow."""


def repeats(fan: HeardFan) -> Iterator[Finding]:
    """Rule 39."""
    without = []
    for mounting in fan.mountings:
        if not any(each.is_recording for each in mounting.dwells):
            continue
        pairs = list(_repeated(mounting))
        if not pairs:
            without.append(mounting)
        for first, last in pairs:
            yield from _repeat(fan, mounting, first, last)
    if without:
        yield about_fan(
            39, fan.name, key_of("repeat", heard_key(fan)),
            f"no setting was recorded again at the end of {listed([each.name for each in without])}",
            "the first setting once more at the end of each mounting",
            cause="drift within a mounting goes unseen",
            test="record the first setting again before the fan is taken off",
            common="no setting was recorded again",
        )  # fmt: skip


def _repeated(mounting: HeardMounting) -> Iterator[tuple[RecordingFacts, RecordingFacts]]:
    groups: dict[tuple[str, float], list[RecordingFacts]] = defaultdict(list)
    for run in mounting.dwells:
        if run.setting is not None and not run.is_bound:
            groups[run.setting_kind, round(run.setting / SAME_SETTING)].append(run)
    for runs in groups.values():
        ordered = sorted(runs, key=lambda each: (each.moment, each.file))
        if len(ordered) > 1:
            yield ordered[0], ordered[-1]


def _repeat(
    fan: HeardFan, mounting: HeardMounting, first: RecordingFacts, last: RecordingFacts
) -> Iterator[Finding]:
    moved = (last.corrected or 0.0) - (first.corrected or 0.0)
    sd = math.hypot(first.u, last.u)
    limit = max(fan.limits.repeat_level, 2.0 * sd)
    if abs(moved) <= limit:
        return
    speeds = [each.speed.used if each.speed else 0.0 for each in (first, last)]
    turned = speeds[1] / speeds[0] - 1.0 if all(speeds) else 0.0
    by_speed = abs(53.0 * math.log10(1.0 + turned)) > 0.7 * abs(moved)
    yield about_recording(
        39, last, mounting,
        f"the repeat of {first.words} of {mounting.name} reads {moved:+.1f} dB"
        + (f" (speed {100 * turned:+.1f} %)" if all(speeds) else ""),
        f"within {limit:.1f} dB",
        severity=BLOCKS if abs(moved) > max(fan.limits.repeat_level, SURELY * sd) else MARKS,
        cause="the fan got warm or its supply drifted" if by_speed
        else "the microphone or the fan's hold moved meanwhile, or another sound came in",
        test="record it once more; measure the microphone's distance", common="the first setting doesn't repeat",
    )  # fmt: skip


def few_mountings(fan: HeardFan) -> Iterator[Finding]:
    """Rule 40."""
    counts: dict[str, int] = defaultdict(int)
    for each in fan.mountings:
        counts[each.obstacle] += 1
    count = max(counts.values(), default=0)
    least = fan.limits.contender_mountings if fan.contends else fan.limits.mountings
    if 0 < count < least:
        times = {1: "once", 2: "twice"}.get(count, f"{count} times")
        contends = " and contends for the lead" if fan.contends else ""
        yield about_fan(
            40, fan.name, heard_key(fan), f"the sound of {fan.name} was recorded in {count} mountings"
            if count > 1 else f"the sound of {fan.name} was recorded {times}{contends}",
            f"{least:g} mountings at least", test="mount it once more on another day",
            common=f"sound of fewer than {least:g} mountings",
        )  # fmt: skip


def disagreeing(fan: HeardFan, blocked: Collection[str]) -> Iterator[Finding]:
    """Rule 41: mountings of one sample that nothing else speaks against, at the same speeds."""
    groups: dict[Any, list[HeardMounting]] = defaultdict(list)
    for each in fan.mountings:
        if each.sound is not None and each.blocked_as not in blocked:
            groups[each.sample, each.obstacle, each.geometry.place].append(each)
    for group in groups.values():
        for one, other in itertools.combinations(group, 2):
            yield from _apart(fan, one, other, group)


def _apart(
    fan: HeardFan, one: HeardMounting, other: HeardMounting, group: Sequence[HeardMounting]
) -> Iterator[Finding]:
    if one.sound is None or other.sound is None:
        return
    curves = (one.sound.levels, other.sound.levels)
    low, high = max(each.reach[0] for each in curves), min(each.reach[1] for each in curves)
    if low >= high:
        return
    speeds = np.geomspace(low, high, 9)
    valued = [~_bound_at(each.speeds, each.bound, speeds) for each in curves]
    both = valued[0] & valued[1]
    if not both.any():
        return
    levels = [np.interp(speeds[both], each.speeds, each.central) for each in curves]
    apart = float(np.mean(levels[1] - levels[0]))
    if abs(apart) <= fan.limits.replicates * fan.spread:
        return
    surely = abs(apart) > SURELY_APART * fan.spread
    yield about_sound(
        41, other, f"{other.name} is {apart:+.1f} dB from {one.name} at the same speeds, of the same sample",
        f"within {fan.limits.replicates * fan.spread:.1f} dB ({fan.limits.replicates:g} s_r)",
        severity=BLOCKS if surely else MARKS,
        cause="the fan was held or the microphone placed otherwise" if len(group) < 3
        else "one of them isn't as the others",
        test="mount it a third time; measure the microphone's distance", common="mountings of one sample disagree",
    )  # fmt: skip


def _bound_at(grid: Any, bound: Any, speeds: Any) -> Any:
    return np.interp(speeds, grid, bound.astype(float)) > 0.0


def warm_up(fan: HeardFan) -> Iterator[Finding]:
    """Rule 43: too short a time at a setting before it was recorded, where that is written down."""
    for mounting in fan.mountings:
        early = [each for each in mounting.dwells
                 if each.warm_up is not None and each.warm_up < 60.0 * fan.limits.warm_up]  # fmt: skip
        if early:
            shortest = min(each.warm_up or 0.0 for each in early)
            yield about_sound(
                43, mounting, f"{mounting.name}: recorded {shortest / 60:.1f} min after the setting was made",
                f"{fan.limits.warm_up:g} min at the setting", cause="the fan's speed still moves",
                test="wait, and record it again", common="warm-up too short", place=early[0].place,
            )  # fmt: skip
