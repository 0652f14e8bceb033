"""All rules put to one fan, to one obstacle, to the instruments and rigs of the lab."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache, partial

from stillroom.quality.boxes import claim_findings
from stillroom.quality.crossings import crossings, stale_obstacles
from stillroom.quality.facts import ClaimFacts, FanFacts, InstrumentFacts, ObstacleFacts, RigFacts
from stillroom.quality.finding import Finding
from stillroom.quality.instruments import instruments, leak_tests
from stillroom.quality.mountings import between_mountings, curve_failed, own_reference
from stillroom.quality.obstacles import check_obstacle as check_obstacle_alone
from stillroom.quality.readings import READING_RULES
from stillroom.quality.registers import REGISTER_RULES, power_falling
from stillroom.quality.repeats import repeated_setting, unsteady_stall
from stillroom.quality.runs import SWEEP_RULES, SweepContext
from stillroom.quality.saying import RunContext
from stillroom.quality.settings import wandering_speed
from stillroom.quality.sizes import implausible, rising_pressure
from stillroom.records.limits import Limits, told_of

VERSION = 5
"""Raised when the same facts would give other findings."""

FAN_RULES: tuple[Callable[[FanFacts], Iterator[Finding]], ...] = (
    *REGISTER_RULES,
    repeated_setting,
    stale_obstacles,
    rising_pressure,
    implausible,
)

SOUND_RULES: tuple[Callable[[FanFacts], Iterator[Finding]], ...] = (
    wandering_speed,
    unsteady_stall,
    crossings,
)
"""Rules for mountings that nothing else speaks against: a fault that is known would only be told once more."""


def check_fan(fan: FanFacts) -> list[Finding]:
    """The findings of a fan: of its runs, of its mountings, of its records."""
    found: list[Finding] = []
    for mounting in fan.mountings:
        run_context = RunContext.of_mounting(mounting, fan)
        for reading in mounting.readings:
            for reading_rule in READING_RULES:
                found += reading_rule(reading, run_context)
        context = SweepContext(mounting, run_context, cache(partial(own_reference, mounting, fan)))
        for run in mounting.runs:
            for sweep_rule in SWEEP_RULES:
                found += sweep_rule(run, context)
        found += curve_failed(mounting)
        found += power_falling(mounting)
    found += between_mountings(fan)
    for fan_rule in FAN_RULES:
        found += fan_rule(fan)
    sound = _without_blocked(fan, found)
    for sound_rule in SOUND_RULES:
        found += sound_rule(sound)
    return with_limits(_each_once(found), fan.limits)


def check_obstacle(obstacle: ObstacleFacts, limits: Limits) -> list[Finding]:
    """The findings of an obstacle and of its own runs."""
    return with_limits(check_obstacle_alone(obstacle, limits), limits)


def _without_blocked(fan: FanFacts, found: Sequence[Finding]) -> FanFacts:
    """The fan with the mountings that nothing speaks against."""
    blocked = {name for each in found if not each.through for name in each.mountings}
    return replace(fan, mountings=tuple(each for each in fan.mountings if each.name not in blocked))


def _each_once(found: Sequence[Finding]) -> list[Finding]:
    """Each finding once: where two rules see the same cause in one subject, the first tells it."""
    kept: dict[tuple[object, ...], Finding] = {}
    for each in found:
        cause = (each.subject, each.common) if each.common and each.blocks else (each.id,)
        kept.setdefault(cause, each)
    return list(kept.values())


def with_limits(found: Sequence[Finding], limits: Limits) -> list[Finding]:
    """The findings, with the limits that this lab has set otherwise told beside what is expected."""
    changed = limits.changed()
    words: dict[int, list[str]] = {}
    for name, (mine, usual) in changed.items():
        told = told_of(name)
        words.setdefault(told.rule, []).append(f"{told.words}: {told.text(mine)}, usually {told.text(usual)}")
    return [
        replace(each, expected=f"{each.expected} (limit of this lab; {'; '.join(words[each.rule])})")
        if each.rule in words
        else each
        for each in found
    ]


def check_instruments(facts: Sequence[InstrumentFacts]) -> list[Finding]:
    """The findings of the lab's instruments."""
    return list(instruments(facts))


def check_boxes(facts: Sequence[ClaimFacts], limits: Limits) -> list[Finding]:
    """The findings of what boxes claim."""
    return with_limits([found for each in facts for found in claim_findings(each, limits)], limits)


def check_rigs(facts: Sequence[RigFacts], limits: Limits) -> list[Finding]:
    """The findings of the lab's rigs as such."""
    return with_limits(list(leak_tests(facts, limits)), limits)
