"""The voices of the invented fans: drawn from the usual ranges, some of them chosen for what they show."""

from __future__ import annotations

from dataclasses import replace

from stillroom.demo.draws import Draws
from stillroom.demo.fan import Fan
from stillroom.demo.sound.room import MOUNTING_SD, SAMPLE_SD, Room
from stillroom.demo.sound.voice import Resonance, Voice

INVERTING = "Tormentil"
"""The fan that meets one level at several speeds: its blades pass at a sharp resonance."""
INVERTED = Resonance(165.0, 22.0, 16.0)
WHINING = "Cloudberry"
"""The fan whose drive whines at any speed, so that it can't run at the lowest limit."""
WHINE, WHINE_LEVEL = 3150.0, 21.5

_LEVELS = {
    "Bracken": 28.4, "Tormentil": 29.8, "Bilberry": 26.2, "Asphodel": 26.9, "Sedge": 24.2, "Sundew": 27.3,
}  # fmt: skip
"""Broadband levels of the short round's fans at 1 m and 1,500 rpm [dB]: chosen so that at 35 dBA and 0.5 m some
keep their speed and some don't."""


def voice_of(seed: int, fan: Fan) -> Voice:
    """The voice of a fan model."""
    draws = Draws(seed, f"voice {fan.name}")
    level = draws.between(24.0, 29.5) if fan.size < 0.13 else draws.between(28.0, 32.0)
    resonance = Resonance(draws.between(170.0, 430.0), draws.between(8.0, 20.0), draws.between(13.0, 16.0))
    passing = (draws.between(-21.0, -17.0), draws.between(-26.0, -22.0), draws.between(-32.0, -27.0))
    voice = Voice(
        level=_LEVELS.get(fan.name, level),
        slope=draws.between(50.0, 56.0),
        hump=draws.between(650.0, 1200.0),
        rise=draws.between(6.0, 8.0),
        fall=draws.between(5.0, 6.0),
        resonance=resonance,
        blades=fan.blades,
        passing=passing,
    )
    if fan.name == INVERTING:
        return replace(voice, resonance=INVERTED, passing=(-7.2, *passing[1:]))
    if fan.name == WHINING:
        return replace(voice, whine=WHINE, whine_level=WHINE_LEVEL)
    return voice


def sample_voice(seed: int, voice: Voice, fan: str, sample: str) -> Voice:
    """The voice of one sample."""
    draws = Draws(seed, f"voice {fan} {sample}")
    moved = replace(voice.resonance, frequency=voice.resonance.frequency * draws.near_one(0.004))
    return replace(_louder(voice, draws.normal(SAMPLE_SD)), resonance=moved)


def mounted_voice(room: Room, voice: Voice, mounting: str, day: int) -> Voice:
    """The voice of a sample as it hangs in the room on a day."""
    return _louder(voice, Draws(room.seed, f"hung {mounting}").normal(MOUNTING_SD) + room.day_level(day))


def _louder(voice: Voice, decibels: float) -> Voice:
    return replace(voice, level=voice.level + decibels, whine_level=voice.whine_level + decibels)
