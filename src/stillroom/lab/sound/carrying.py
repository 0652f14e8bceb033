"""A mounting's sound of another era of its room as the era of the comparison would have read it."""

from __future__ import annotations

from dataclasses import replace

from stillroom.core.shift import Shift
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.sound_mounting import SoundMounting


def carried(sound: SoundMounting, shift: Shift) -> SoundMounting:
    """A mounting's levels, brought over by a bridge; loudness levels by as many phon, as 1 kHz has it."""
    dwells = tuple(replace(each, level=each.level + shift.change) for each in sound.dwells)
    phons = None if sound.phons is None else _curve(sound.phons, shift)
    return replace(sound, levels=_curve(sound.levels, shift), phons=phons, dwells=dwells)


def _curve(curve: LevelCurve, shift: Shift) -> LevelCurve:
    central, sources, effects = shift.carry(curve.central, curve.sources, curve.effects)
    points = tuple(replace(each, level=each.level + shift.change) for each in curve.points)
    return replace(curve, central=central, sources=sources, effects=effects, points=points)
