"""The recordings of one mounting, worked out one after the other.

A recording that can't be used says why, and never stops the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.background import chain_floor
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.orders import NamedTone, across_speeds, name_tones
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.tones import Tone, tones
from stillroom.errors import StillroomError
from stillroom.methods.sound.facts import (
    heard_facts,
    level_facts,
    ramp_facts,
    told_facts,
    tone_facts,
    turning_facts,
)
from stillroom.methods.sound.levels import Level, level_of
from stillroom.methods.sound.ramps import ramp_of
from stillroom.methods.sound.recording import Heard
from stillroom.methods.sound.scales import Scale, scale_of
from stillroom.methods.sound.told import Chain, FanTold, Session, Told
from stillroom.methods.sound.turning import Turning, turning_of

AS_IN_THE_ROOM = 6.0
"""A tone that is no further above the same tone in the background is the room's [dB] (common practice)."""


@dataclass
class Taken:
    """One recording, or one row of a sheet, as far as it was worked out."""

    told: Told
    heard: Heard | None
    row: int | None
    scale: Scale | None = None
    level: Level | None = None
    turning: Turning | None = None
    tones: tuple[NamedTone, ...] = ()
    points: tuple[LevelPoint, ...] = ()
    ramp: dict[str, Any] | None = None
    failed: str = ""

    def facts(self) -> dict[str, Any]:
        """It in plain words and numbers."""
        facts = told_facts(self.told, self.row, self.failed)
        if self.heard is not None:
            facts |= heard_facts(self.heard, self.scale.offset if self.scale else None)
        if self.level is not None:
            facts |= level_facts(self.level)
        facts["speed"] = turning_facts(self.turning) if self.turning else None
        facts["ramp"] = self.ramp
        facts["tones"] = tone_facts(self.tones)
        return facts


class Work:
    """Works out one recording after the other."""

    def __init__(self, fan: FanTold, chain: Chain) -> None:
        self.fan, self.chain = fan, chain
        self.taken: list[Taken] = []
        self.tracks: dict[str, RampTrack] = {}
        self.scales: dict[str, Scale] = {}

    def take(self, session: Session) -> None:
        """Work out one recording; what can't be is said in its words."""
        item = session.item
        if item.failed or not item.heard:
            self.taken.append(Taken(item.told, None, None, failed=item.failed or "nothing was heard"))
            return
        several = len(item.heard) > 1
        for i, heard in enumerate(item.heard):
            taken = Taken(item.told, heard, i + 1 if several else None)
            self.taken.append(taken)
            try:
                self._work(taken, heard, session)
            except StillroomError as error:
                taken.failed = error.sentence()

    def _work(self, taken: Taken, heard: Heard, session: Session) -> None:
        told = taken.told
        taken.scale = self.scales[told.run] = self.scales.get(told.run) or scale_of(session, self.chain)
        taken.level = level_of(heard, session, taken.scale, self.chain)
        if told.rising is not None or (heard.series is not None and heard.series.speeds is not None):
            ramp = ramp_of(told, taken.level, self.fan, self.chain)
            taken.points, taken.ramp = ramp.points, ramp_facts(ramp.points, ramp.track)
            if ramp.track is not None:
                self.tracks[told.run] = ramp.track
            return
        taken.turning = turning_of(told, taken.level, self.fan)
        total = taken.level.total
        taken.points = (
            LevelPoint(
                taken.turning.used, taken.turning.u, total.level, taken.level.u, total.is_bound,
                from_ramp=False, run=told.run,
            ),
        )  # fmt: skip

    @property
    def dwells(self) -> list[tuple[Taken, Level, Turning]]:
        """What was worked out as a dwell, by speed."""
        found = [
            (each, each.level, each.turning)
            for each in self.taken
            if each.level is not None and each.turning is not None and not each.failed
        ]
        return sorted(found, key=lambda one: (one[2].used, one[0].told.run, one[0].row or 0))

    def name_tones(self) -> None:
        """Find the tones of all dwells and name them by what they do from speed to speed."""
        dwells = [each for each in self.dwells if each[1].spectrum is not None]
        found = [_own_tones(level) for _, level, _ in dwells]
        if len(dwells) > 1:
            speeds = [turning.used for _, _, turning in dwells]
            named: Sequence[tuple[NamedTone, ...]] = across_speeds(speeds, found, self.fan.blades).named
        else:
            named = [
                name_tones(one, each[2].used, self.fan.blades)
                for one, each in zip(found, dwells, strict=True)
            ]
        for (taken, _, _), tones_of_it in zip(dwells, named, strict=True):
            taken.tones = tones_of_it

    def facts(self) -> list[dict[str, Any]]:
        """All recordings of the fan."""
        return [each.facts() for each in self.taken]

    def points(self) -> list[tuple[Taken, Scale, LevelPoint]]:
        """All points with where they come from."""
        return [
            (each, each.scale, point)
            for each in self.taken
            if each.scale is not None and not each.failed
            for point in each.points
        ]

    def marks(self) -> list[str]:
        """What must be said of what was used."""
        used = [each for each in self.taken if each.scale is not None and not each.failed]
        found = [mark for each in used if each.scale for mark in each.scale.marks]
        if any(each.level is not None and each.level.room.total is None for each in used):
            found.append("no background recorded")
        if any(point.is_bound and not point.from_ramp for each in used for point in each.points):
            found.append("some levels are upper bounds")
        if any(tone.tone.prominent for each in used for tone in each.tones):
            found.append("tones of one position")
        return found

    @property
    def floor(self) -> float | None:
        """The lowest level that the chain can give, by the loudest of the backgrounds [dB]."""
        rooms = [each.level.room.total.level for each in self.taken if each.level and each.level.room.total]
        return chain_floor(max(rooms, default=None), self.chain.self_noise)


def _own_tones(level: Level) -> tuple[Tone, ...]:
    """The tones of a dwell that are not the room's: well above the background at the same frequency."""
    heard, room = level.heard, level.room
    if level.spectrum is None or heard.resolution is None or heard.noise_bandwidth is None:
        return ()
    found = tones(level.spectrum, heard.resolution, heard.noise_bandwidth)
    if room.spectrum is None:
        return found
    return tuple(
        each for each in found if each.level > _around(room.spectrum, each, heard.resolution) + AS_IN_THE_ROOM
    )


def _around(spectrum: Array, tone: Tone, resolution: float) -> float:
    """Level of the bins around a tone [dB]."""
    middle = round(tone.frequency / resolution)
    power = float(np.sum(spectrum[max(0, middle - 2) : middle + 3]))
    return 10.0 * float(np.log10(power)) if power > 0.0 else -np.inf
