"""All rules put to one fan, and to the instruments of the lab."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache, partial

from stillroom.quality.facts import FanFacts, InstrumentFacts
from stillroom.quality.finding import Finding
from stillroom.quality.mountings import between_mountings, curve_failed, own_reference
from stillroom.quality.registers import FAN_RULES, claims, instruments, power_falling
from stillroom.quality.runs import RUN_RULES, RunContext

VERSION = 1
"""Raised when the same facts would give other findings."""


def check_fan(fan: FanFacts) -> list[Finding]:
    """The findings of a fan: of its runs, of its mountings, of its records."""
    found: list[Finding] = []
    for mounting in fan.mountings:
        reference = cache(partial(own_reference, mounting, fan))
        context = RunContext(mounting, reference, fan.record.wires if fan.record else None)
        for run in mounting.runs:
            for run_rule in RUN_RULES:
                found += run_rule(run, context)
        found += curve_failed(mounting)
        found += power_falling(mounting)
    found += between_mountings(fan)
    for fan_rule in FAN_RULES:
        found += fan_rule(fan)
    found += claims(_without_blocked(fan, found))
    return found


def _without_blocked(fan: FanFacts, found: Sequence[Finding]) -> FanFacts:
    """The fan with the mountings that nothing speaks against: only those are held against the box."""
    blocked = {name for each in found for name in each.mountings}
    return replace(fan, mountings=tuple(each for each in fan.mountings if each.name not in blocked))


def check_instruments(facts: Sequence[InstrumentFacts]) -> list[Finding]:
    """The findings of the lab's instruments."""
    return list(instruments(facts))
