"""The measures of sound: what is taken from a fan's level against speed."""

from __future__ import annotations

from stillroom.core.multiple import Merit
from stillroom.measures.found import Measure, Origin, no_curve

LEVEL, LOUDNESS, SHARPNESS, LIMITED_SPEED = "level", "loudness", "sharpness", "limited-speed"

MEASURES: tuple[Measure, ...] = (
    Measure(
        LEVEL,
        "Sound pressure level",
        "A-weighted sound pressure level at the microphone's place, corrected for background (ISO 3744:2010, K1).",
        1,
        "sound_level",
        Merit.LESS,
        False,
        no_curve,
        "is the quietest",
        absolute=True,
        origin=Origin.SOUND,
    ),
    Measure(
        LOUDNESS,
        "Loudness",
        "Loudness of the stationary sound at the microphone's place, from one-third-octave levels corrected for"
        " background, in a free field (ISO 532-1:2017).",
        1,
        "loudness",
        Merit.LESS,
        False,
        no_curve,
        "is the least loud",
        origin=Origin.SOUND,
    ),
    Measure(
        SHARPNESS,
        "Sharpness",
        "Sharpness of the stationary sound at the microphone's place (DIN 45692:2009).",
        1,
        "sharpness",
        Merit.LESS,
        False,
        no_curve,
        "is the least sharp",
        origin=Origin.SOUND,
    ),
    Measure(
        LIMITED_SPEED,
        "Noise-limited speed",
        "Speed that a noise limit allows, by the lab's rule.",
        1,
        "speed",
        Merit.MORE,
        False,
        no_curve,
        "may turn fastest",
        origin=Origin.LIMIT,
    ),
)
