"""All rules of heat put to one fan, to a rig's law, or to a run that still grows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from stillroom.quality.checking import with_limits
from stillroom.quality.finding import Finding
from stillroom.quality.heat.clocks import clocks
from stillroom.quality.heat.facts import LawFacts, WarmFan, WarmMounting
from stillroom.quality.heat.lawful import lawful
from stillroom.quality.heat.loads import loads
from stillroom.quality.heat.possible import possible
from stillroom.quality.heat.records import records
from stillroom.quality.heat.replicates import disagreeing, few_mountings, repeats
from stillroom.quality.heat.settling import settling, warm_up
from stillroom.quality.heat.surroundings import surroundings
from stillroom.quality.heat.turning import turning
from stillroom.records.limits import Limits

VERSION = 3
"""Raised when the same facts would give other findings."""

MOUNTING_RULES: tuple[Callable[[WarmMounting, Limits], Iterator[Finding]], ...] = (
    clocks,
    turning,
    loads,
    surroundings,
    possible,
    settling,
    warm_up,
)

FAN_RULES: tuple[Callable[[WarmFan], Iterator[Finding]], ...] = (repeats, few_mountings, records)


def check_heat(fan: WarmFan) -> list[Finding]:
    """The findings of a fan's heat."""
    found = [
        finding
        for mounting in fan.mountings
        for rule in MOUNTING_RULES
        for finding in rule(mounting, fan.limits)
    ]
    found += [finding for fan_rule in FAN_RULES for finding in fan_rule(fan)]
    blocked = {name for each in found for name in each.mountings}
    found += disagreeing(fan, blocked)
    return with_limits(as_one(found), fan.limits)


def as_one(found: Sequence[Finding]) -> list[Finding]:
    """What blocks a mounting by one rule as one finding: a decision on it decides all that the rule says of it."""
    merged: dict[str, Finding] = {}
    for each in found:
        there = merged.get(each.id)
        merged[each.id] = each if there is None else _joined(there, each)
    return list(merged.values())


def _joined(one: Finding, other: Finding) -> Finding:
    def both(name: str) -> str:
        return "; ".join(dict.fromkeys(filter(None, (getattr(one, name), getattr(other, name)))))

    return replace(
        one,
        found=both("found"),
        expected=both("expected"),
        cause=both("cause"),
        test=both("test"),
        common=both("common"),
    )


def check_live(mounting: WarmMounting, limits: Limits) -> list[Finding]:
    """The findings of a run that still grows, each by itself: what can be seen before it is over, well under a
    millisecond.

    Parameters
    ----------
    mounting : as far as it is there, `is_running`. limits : in force.
    """
    found = [finding for rule in MOUNTING_RULES for finding in rule(mounting, limits)]
    return with_limits(found, limits) if found else found


def check_law(rig: str, facts: Sequence[LawFacts], limits: Limits) -> list[Finding]:
    """The findings of a rig by the law of resistance against airflow."""
    return with_limits(list(lawful(rig, facts, limits)), limits)
