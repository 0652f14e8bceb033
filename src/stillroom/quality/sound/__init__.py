"""Rules of quality for sound."""

from stillroom.quality.sound.checking import VERSION, check_sound, told_once
from stillroom.quality.sound.facts import (
    HeardFan,
    HeardMounting,
    RecordingFacts,
    ScaleFacts,
    SpeedFacts,
    ToneFacts,
)

__all__ = [
    "VERSION",
    "HeardFan",
    "HeardMounting",
    "RecordingFacts",
    "ScaleFacts",
    "SpeedFacts",
    "ToneFacts",
    "check_sound",
    "told_once",
]
