"""Rules of quality for heat."""

from stillroom.quality.heat.checking import VERSION, check_heat, check_law, check_live
from stillroom.quality.heat.facts import (
    ClockFacts,
    ExpectedSpeed,
    Gust,
    LawFacts,
    WarmFan,
    WarmMounting,
)

__all__ = [
    "VERSION",
    "ClockFacts",
    "ExpectedSpeed",
    "Gust",
    "LawFacts",
    "WarmFan",
    "WarmMounting",
    "check_heat",
    "check_law",
    "check_live",
]
