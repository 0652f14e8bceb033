"""All rules of control put to one fan."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from stillroom.quality.checking import with_limits
from stillroom.quality.control.facts import ControlledFan
from stillroom.quality.control.signals import generator, supply
from stillroom.quality.control.speeds import against_box, against_optical, overflowed, unsteady
from stillroom.quality.control.starting import attempts, warm_up
from stillroom.quality.finding import Finding

VERSION = 2
"""Raised when the same facts would give other findings."""

RULES: tuple[Callable[[ControlledFan], Iterator[Finding]], ...] = (
    overflowed,
    against_optical,
    against_box,
    generator,
    supply,
    unsteady,
    attempts,
    warm_up,
)


def check_control(fan: ControlledFan) -> list[Finding]:
    """The findings of the tests of a fan's control."""
    return with_limits([finding for rule in RULES for finding in rule(fan)], fan.limits)
