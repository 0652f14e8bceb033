"""Ways to put a finding of heat: about a mounting's steps, or what a fan's mountings share."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmFan, WarmMounting, step_words
from stillroom.quality.rules import Severity
from stillroom.quality.saying import listed
from stillroom.records.keys import key_of

BLOCKS, MARKS = Severity.BLOCKS, Severity.MARKS


def about_heat(
    rule: int,
    mounting: WarmMounting,
    what: str,
    found: str,
    expected: str,
    *,
    severity: Severity = MARKS,
    cause: str = "",
    test: str = "",
    common: str = "",
) -> Finding:
    """A finding of one mounting's heat; `what` tells several of one rule apart.

    Its key is the mounting's own, so that a decision can exclude it.
    """
    blocks = severity is BLOCKS
    return Finding(rule, mounting.subject, mounting.judged, severity, found, expected, cause, test, mounting.file,
                   (mounting.fan,), (mounting.blocked_as,) if blocks else (),
                   common=common, what=what)  # fmt: skip


def warm_key(fan: WarmFan) -> str:
    """Key of all that is judged of a fan's heat."""
    return key_of("heat of", fan.name, [each.judged for each in fan.mountings])


def steps_in(mounting: WarmMounting, steps: Sequence[HeatStep]) -> str:
    """Some steps of a mounting, in words: all of them, or each by its number and setting."""
    if len(steps) > 1 and len(steps) == len(mounting.steps):
        return f"all steps of {mounting.name}"
    return f"{listed([step_words(each) for each in steps])} of {mounting.name}"


def percent(share: float, digits: int = 1) -> str:
    """A share with its sign, in per cent."""
    return f"{100.0 * share:+.{digits}f} %"


def minutes(seconds: float) -> str:
    """A time [s] in minutes."""
    return f"{seconds / 60.0:.0f} min"
