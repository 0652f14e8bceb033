"""At which speed of each fan one more dwell would tell most about its noise limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.placing import NextSpeed, next_speed
from stillroom.errors import NotPossible
from stillroom.lab.sound.fan_sound import FanSound, Sounds
from stillroom.lab.sound.level_words import limit_words
from stillroom.lab.sound.limits import target_level
from stillroom.measures import Condition


@dataclass(frozen=True)
class NextDwell:
    """A speed at which one more dwell of a fan is worth it.

    Parameters
    ----------
    fan : whose. speed : [1/s]. limit : the limit that it serves, in words.
    probability : that the level there keeps to the limit, as far as the mounting's own levels tell [1].
    """

    fan: str
    speed: float
    limit: str
    probability: float


def next_dwells(
    sounds: Sounds, fans: Sequence[str], obstacle: str, conditions: Sequence[Condition]
) -> tuple[NextDwell, ...]:
    """One speed of each fan that has one, in the order of `fans`.

    Parameters
    ----------
    obstacle : with which the fans stand, "" in free air. conditions : one a limit.
    """
    found = []
    for fan in fans:
        try:
            used = sounds.fan(fan, obstacle)
        except NotPossible:
            continue  # its rows say why it has no sound
        best = max(_of_mountings(used, conditions), key=lambda each: each[0].doubt, default=None)
        if best is not None:
            place, condition = best
            words = limit_words(condition, used.geometry)
            found.append(NextDwell(fan, place.speed, words, place.probability))
    return tuple(found)


def _of_mountings(used: FanSound, conditions: Sequence[Condition]) -> Iterator[tuple[NextSpeed, Condition]]:
    for condition in conditions:
        for curve in _curves(used, condition):
            if place := next_speed(curve, [target_level(condition)]):
                yield place, condition


def _curves(used: FanSound, condition: Condition) -> list[LevelCurve]:
    """Of each mounting: levels, or loudness levels where the limit is in sone and bands were read."""
    if condition.sone is None:
        return [each.sound.levels for each in used.heard]
    return [each.sound.phons for each in used.heard if each.sound.phons is not None]
