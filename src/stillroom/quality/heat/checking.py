"""All rules of heat put to one fan, to a rig's law, or to a run that still grows."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import LawFacts, WarmFan, WarmMounting
from stillroom.records.limits import Limits

VERSION = 1
"""Raised when the same facts would give other findings."""


def check_heat(fan: WarmFan) -> list[Finding]:
    """The findings of a fan's heat."""
    raise NotImplementedError


def check_live(mounting: WarmMounting, limits: Limits) -> list[Finding]:
    """The findings of a run that still grows: what can be seen before it is over, well under a millisecond.

    Parameters
    ----------
    mounting : as far as it is there, `is_running`. limits : in force.
    """
    raise NotImplementedError


def check_law(rig: str, facts: Sequence[LawFacts], limits: Limits) -> list[Finding]:
    """The findings of a rig by the law of resistance against airflow."""
    raise NotImplementedError
