"""All rules of sound put to one fan; and what several fans share, told once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from stillroom.quality.checking import with_limits
from stillroom.quality.finding import Finding
from stillroom.quality.sound.facts import HeardFan, HeardMounting
from stillroom.quality.sound.places import moved, places
from stillroom.quality.sound.recordings import recordings
from stillroom.quality.sound.replicates import disagreeing, few_mountings, repeats, warm_up
from stillroom.quality.sound.rooms import backgrounds
from stillroom.quality.sound.scales import calibrators
from stillroom.quality.sound.targets import free_air, targets
from stillroom.quality.sound.turning import turning

VERSION = 3
"""Raised when the same facts would give other findings."""

RULES: tuple[Callable[[HeardFan], Iterator[Finding]], ...] = (
    calibrators,
    backgrounds,
    recordings,
    places,
    turning,
    targets,
    free_air,
    few_mountings,
    repeats,
    warm_up,
)

OF_THE_ROOM = frozenset({6, 9})
"""What is said of the backgrounds of a place at which no background was recorded, where the microphone was moved,
is told by that."""


def check_sound(fan: HeardFan) -> list[Finding]:
    """The findings of a fan's sound."""
    found = [finding for rule in RULES for finding in rule(fan)]
    gone = {each.subject for each in fan.mountings if _was_moved(each, fan)}
    found = [each for each in found if each.rule not in OF_THE_ROOM or each.subject not in gone]
    blocked = {name for each in found for name in each.mountings}
    found += disagreeing(fan, blocked)
    return with_limits(told_once(found), fan.limits)


def _was_moved(mounting: HeardMounting, fan: HeardFan) -> bool:
    return bool(moved(mounting, fan.limits))


def _together(one: Finding, other: Finding) -> Finding:
    fans, mountings = ({*one.fans, *other.fans}, {*one.mountings, *other.mountings})
    return replace(one, fans=tuple(sorted(fans)), mountings=tuple(sorted(mountings)))


def told_once(found: Sequence[Finding]) -> list[Finding]:
    """What several mountings share (a calibrator, a background) as one finding, with all that hangs on it."""
    merged: dict[tuple[str, str], Finding] = {}
    for each in found:
        name = (each.id, each.severity.value)
        there = merged.get(name)
        merged[name] = each if there is None else _together(there, each)
    return list(merged.values())
