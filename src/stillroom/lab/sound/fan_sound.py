"""A fan's level against speed from the mountings whose sound can be compared, with the spread that the lab agreed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from stillroom.core.sound.fan_levels import FanLevels, MountingCurve, combine_curves
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.sound_mounting import Geometry, SoundMounting
from stillroom.core.spread import (
    FIRST_YEAR_MOUNTING_LEVEL,
    FIRST_YEAR_SAMPLE_LEVEL,
    MountingValue,
    PooledSpread,
    Spreads,
    pooled_spreads,
)
from stillroom.errors import NotPossible
from stillroom.lab.book import Book
from stillroom.lab.eras.watch_facts import unchecked
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.carrying import carried
from stillroom.lab.sound.comparable import comparable
from stillroom.lab.sound.few_kept import FewKept
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.sound.nodes import SoundNode
from stillroom.records.acts import Spread
from stillroom.records.fields import as_json
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now

FREE_AIR = "free-air noise"
"""The mark of a level that was measured in free air and stands beside something behind an obstacle."""

SPREAD = "level, given speed"
"""Under which name the spread of levels at equal speed is agreed [dB]."""


FANS = 8
"""How many fans' sound is kept at hand, each some ten megabytes."""


SAME_SPEED = 0.97
"""From this share of full speed on a fan is at full speed [1]."""

RECORD_WITHIN = 0.85
"""The same where full speed is known by the fan's record alone: these are printed within ± 10 % [1]."""


@dataclass(frozen=True)
class Heard:
    """One mounting's sound, with its node."""

    node: SoundNode
    sound: SoundMounting


@dataclass(frozen=True)
class FanSound:
    """The sound of a fan behind an obstacle.

    Parameters
    ----------
    fan : its name. heard : its mountings. obstacle : with which they were measured, "" in free air.
    spreads : between mountings and samples, at equal speed [dB]. marks : what must be said beside.
    """

    fan: str
    heard: tuple[Heard, ...]
    obstacle: str
    geometry: Geometry
    spreads: Spreads
    marks: tuple[str, ...]

    def is_full(self, speed: float) -> bool:
        """Whether a speed [1/s] is full speed in a mounting, as far as settings, or the fan's record, tell it."""
        return any(_is_full(each, speed) for each in self.heard)

    @cached_property
    def levels(self) -> FanLevels:
        """A-weighted level against speed [dB]."""
        return self._combined([each.sound.levels for each in self.heard])

    @cached_property
    def phons(self) -> FanLevels:
        """Loudness level against speed [phon].

        Raises
        ------
        NotPossible : a mounting without one-third-octave levels.
        """
        curves = [each.sound.phons for each in self.heard if each.sound.phons is not None]
        if len(curves) < len(self.heard):
            raise NotPossible(
                f"loudness of {self.fan}",
                found="sound without one-third-octave levels",
                expected="recordings, or levels in bands",
            )
        return self._combined(curves)

    def _combined(self, curves: Sequence[LevelCurve]) -> FanLevels:
        told = [
            MountingCurve(f"{each.node.fan}/{each.node.sample}", each.node.subject, curve)
            for each, curve in zip(self.heard, curves, strict=True)
        ]
        return combine_curves(told, self.spreads, identity=SPREAD)


class Sounds:
    """The sound of a lab that can be compared, and the spread of its levels, each worked out once.

    Parameters
    ----------
    lab, book, graph : the lab as it stands, reduced.

    Attributes
    ----------
    limits : the last noise limits that were worked out, by key.
    """

    def __init__(self, lab: Lab, book: Book, graph: Graph) -> None:
        self.lab, self.book, self.graph = lab, book, graph
        self.comparable = comparable(book, graph, lab)
        self._fans: FewKept[FanSound] = FewKept(FANS)
        self._unchecked: Mapping[str, str] | None = None
        self.limits: FewKept[Any] = FewKept(FANS)

    @cached_property
    def spreads(self) -> Spreads:
        """Of levels at equal speed: the agreed ones, else those of all sound that can be compared [dB]."""
        agreed = self.book.spreads.get(SPREAD)
        if agreed is not None:
            return Spreads(
                PooledSpread.agreed(agreed.mounting, agreed.mounting_dof),
                PooledSpread.agreed(agreed.sample, agreed.sample_dof),
            )
        return pooled_spreads(
            self._at_equal_speed,
            prior_sample_sd=FIRST_YEAR_SAMPLE_LEVEL,
            prior_mounting_sd=FIRST_YEAR_MOUNTING_LEVEL,
            relative=False,
        )

    @cached_property
    def _at_equal_speed(self) -> list[MountingValue]:
        """The level of each mounting in the middle of the speeds that all mountings of its fan have in common."""
        found: list[MountingValue] = []
        for nodes in self.comparable.nodes.values():
            for obstacle in sorted({each.obstacle for each in nodes}):
                found += _in_common(self._heard([each for each in nodes if each.obstacle == obstacle])[0])
        return found

    def unchecked(self, blocked: Mapping[str, str]) -> Mapping[str, str]:
        """{name under which it is blocked: mark} of what was measured on days without a valid check of its rig."""
        if self._unchecked is None:
            self._unchecked = unchecked(self.lab, self.book, self.graph, blocked)
        return self._unchecked

    def nodes(self, fan: str, obstacle: str) -> tuple[SoundNode, ...]:
        """The mountings of a fan whose sound is used behind an obstacle: those with it, else those in free air.

        Raises
        ------
        NotPossible : no sound that can be compared, with why.
        """
        nodes = self.comparable.nodes.get(fan, ())
        used = [each for each in nodes if each.obstacle == obstacle]
        used = used or [each for each in nodes if not each.obstacle]
        if used:
            return tuple(used)
        why = self.comparable.reason(fan)
        if nodes:
            why = f"sound measured only with {', '.join(sorted({each.obstacle for each in nodes}))}"
        raise NotPossible(f"sound of {fan}", found=why)

    def fan(self, fan: str, obstacle: str) -> FanSound:
        """The sound of a fan, measured with an obstacle where it was, else in free air, which is said.

        Raises
        ------
        NotPossible : as of `nodes`, or none that could be reduced.
        """
        return self._fans.get((fan, obstacle), lambda: self._fan(fan, obstacle))

    def _fan(self, fan: str, obstacle: str) -> FanSound:
        used = self.nodes(fan, obstacle)
        heard, failed = self._heard(used)
        if not heard:
            raise NotPossible(f"sound of {fan}", found=failed[0])
        marks = [*self.comparable.marks.get(fan, ())]
        marks += [FREE_AIR] if obstacle and not used[0].obstacle else []
        marks += ["a mounting’s sound could not be used"] if failed else []
        marks += [mark for each in heard for mark in each.sound.marks]
        return FanSound(
            fan,
            heard,
            used[0].obstacle,
            self.comparable.geometry,
            self.spreads,
            tuple(dict.fromkeys(marks)),
        )

    def _heard(self, nodes: Sequence[SoundNode]) -> tuple[tuple[Heard, ...], list[str]]:
        """The sound of the mountings that could be reduced, of earlier eras brought over; why others could not."""
        heard: list[Heard] = []
        failed: list[str] = []
        for node in nodes:
            result = results.get(self.lab.database, node.key)
            if result is None or result.failed:
                failed.append(result.failed if result else "not reduced yet")
                continue
            sound, shift = load_sound(self.lab.path, result), self.comparable.over(node)
            heard.append(Heard(node, carried(sound, shift) if shift else sound))
        return tuple(heard), failed

    def agree_on_spread(self, blocked: Mapping[str, str]) -> Book:
        """Agree on the spread of levels, dated, where none is agreed and nothing is blocked; the book as it then is."""
        every = [each for own in self.comparable.nodes.values() for each in own]
        if SPREAD in self.book.spreads or any(each.blocked_as in blocked for each in every):
            return self.book
        spreads = self.spreads
        if spreads.mounting.data_dof <= 0:
            return self.book
        agreed = Spread(
            measure=SPREAD,
            date=now()[:10],
            mounting=spreads.mounting.sd,
            mounting_dof=spreads.mounting.dof,
            sample=spreads.sample.sd,
            sample_dof=spreads.sample.dof,
            fans=len({each.fan for each in every}),
        )
        self.lab.write([Note(Spread.kind, agreed.name, as_json(agreed))])
        self.book = replace(self.book, spreads=self.lab.current(Spread))
        del self.spreads
        self._fans.clear()
        return self.book


def _is_full(heard: Heard, speed: float) -> bool:
    """By its settings; where nobody told any, its fastest reading counts unless the record tells a faster fan."""
    full, printed = heard.sound.full_speed, heard.node.full_speed
    if printed is not None and (heard.node.top is None or full is None):
        return speed >= RECORD_WITHIN * printed
    return full is not None and speed >= SAME_SPEED * full


def _in_common(heard: Sequence[Heard]) -> list[MountingValue]:
    if not heard:
        return []
    low = max(each.sound.levels.reach[0] for each in heard)
    high = min(each.sound.levels.reach[1] for each in heard)
    if low > high:
        return []
    middle = math.sqrt(low * high)
    fan = f"{heard[0].node.fan}/{heard[0].node.obstacle}"
    return [
        MountingValue(fan, each.node.sample, each.node.subject, _level_at(each.sound.levels, middle))
        for each in heard
        if not _is_bound_at(each.sound.levels, middle)
    ]


def _is_bound_at(curve: LevelCurve, speed: float) -> bool:
    """Whether a curve rests on bounds at a speed: these lie at the floor, alike in all mountings."""
    return bool(np.interp(speed, curve.speeds, curve.bound) > 0.0)


def _level_at(curve: LevelCurve, speed: float) -> float:
    return float(np.interp(speed, curve.speeds, curve.central))
