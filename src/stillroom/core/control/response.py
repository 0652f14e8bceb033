"""Speed against setting: legs of a staircase, where a fan stops and starts, its lowest running setting.

A threshold lies between two tested settings: the grid of settings says how well it is known, and no single number
stands for it. Which way a fan was brought to a setting matters: most go on turning at settings at which they don't
start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.control.control_mounting import Behaviour, How, Response, Threshold
from stillroom.errors import NotPossible

STANDS_STILL = 0.5
"""Below this speed a fan counts as standing still: 30 rpm [1/s] (common practice: tachometers time out there)."""

FULL_SPEED = 0.9
"""From this share of full speed on a fan with next to no duty runs as it does without a control signal [1]."""

NO_SIGNAL = 0.02
"""Up to this duty some fans take the signal for none [1] (common practice)."""

SAME = 1e-6
"""Settings that differ by less are one setting [1] or [V]."""


@dataclass(frozen=True)
class Leg:
    """Steps in one direction, in the order in which they were taken; shares its turning points with its neighbours."""

    response: Response
    is_falling: bool


def legs(
    settings: Array, speeds: Array, u: Array, falling: Sequence[bool | None] | None = None
) -> tuple[Leg, ...]:
    """A staircase as legs that rise or fall.

    Parameters
    ----------
    settings : of each step in its order, (n,) [1] or [V].
    speeds, u : of each step, (n,) [1/s].
    falling : what was told of each step; None of one of which nothing was told, and as a whole where there is no
        such column.

    Raises
    ------
    NotPossible : fewer than two steps at different settings.
    """
    ways = _ways(settings, falling)
    if not any(each is not None for each in ways):
        raise NotPossible("response", found="steps at one setting only", expected="steps at several settings")
    found: list[Leg] = []
    first = 0
    for i in range(1, len(settings) + 1):
        if i < len(settings) and ways[i] == ways[first]:
            continue
        begin = first - 1 if first and _goes_on(settings, first, bool(ways[first])) else first
        if (way := ways[first]) is not None and i - begin > 1:
            taken = slice(begin, i)
            found.append(Leg(Response(settings[taken], speeds[taken], u[taken]), way))
        first = i
    return tuple(found)


def _ways(settings: Array, falling: Sequence[bool | None] | None) -> list[bool | None]:
    """Of each step whether it was reached falling: as told, else by the step before; the first goes with the second."""
    told = list(falling) if falling is not None else [None] * len(settings)
    ways: list[bool | None] = [told[0]]
    for i in range(1, len(settings)):
        change = float(settings[i] - settings[i - 1])
        seen = ways[-1] if abs(change) < SAME else change < 0.0
        ways.append(seen if told[i] is None else told[i])
    first = next((each for each in ways if each is not None), None)
    return [first if each is None else each for each in ways]


def _goes_on(settings: Array, first: int, falling: bool) -> bool:
    """Whether the step before a leg is its turning point."""
    change = float(settings[first] - settings[first - 1])
    return change < 0.0 if falling else change > 0.0


def joined(several: Iterable[Leg], *, falling: bool) -> Response | None:
    """All legs in one direction as one response; None where there is none."""
    own = [each.response for each in several if each.is_falling is falling]
    if not own:
        return None
    return Response(*(np.concatenate([getattr(each, name) for each in own]) for name in _PARTS))


_PARTS = ("settings", "speeds", "u")


def full_speed(response: Iterable[Response]) -> tuple[float, float, float]:
    """The greatest setting [1] or [V] with its mean speed and the standard uncertainty of that [1/s]."""
    every = list(response)
    settings, speeds, u = (np.concatenate([getattr(each, name) for each in every]) for name in _PARTS)
    top = float(settings.max())
    at = settings >= top - SAME
    return top, float(speeds[at].mean()), float(np.sqrt(np.mean(u[at] ** 2)))


def without_open_end(response: Response, full: float, kind: str) -> tuple[Response, bool]:
    """A response without the steps at next to no duty at which the fan runs at full speed, as without a signal; and
    whether there are such.
    """
    gone = (response.settings <= NO_SIGNAL) & (response.speeds >= FULL_SPEED * full) & (kind == "duty")
    kept = [getattr(response, name)[~gone] for name in _PARTS]
    return Response(*kept), bool(gone.any())


def stop_threshold(several: Iterable[Leg]) -> Threshold | None:
    """Between which two settings a fan stopped as the setting fell.

    Of each falling leg the highest setting at which it stood and the lowest at which it still turned; what all legs
    agree upon, and where they contradict one another all that any of them allows: then the threshold moved.

    Returns
    -------
    None where no leg falls; `low` None where it never stopped: the threshold is at most `high`, if there is one.
    """
    return _agreed(each for each in several if each.is_falling and each.response.speeds[0] >= STANDS_STILL)


def start_threshold(several: Iterable[Leg]) -> Threshold | None:
    """Between which two settings a fan started as the setting rose from where it stood, as for `stop_threshold`.

    Returns
    -------
    None where no leg rises from rest; `high` None where it never started.
    """
    return _agreed(each for each in several if not each.is_falling and each.response.speeds[0] < STANDS_STILL)


def _agreed(several: Iterable[Leg]) -> Threshold | None:
    """What legs tell together of a threshold; None without any."""
    lows: list[float | None] = []
    highs: list[float | None] = []
    for leg in several:
        settings, running = leg.response.settings, leg.response.speeds >= STANDS_STILL
        low = float(settings[~running].max()) if not running.all() else None
        high = float(settings[running].min()) if running.any() else None
        if low is not None and high is not None and low > high:  # it stood, and turned again farther on
            low, high = high, low
        lows.append(low)
        highs.append(high)
    if not lows:
        return None
    stood, turned = [each for each in lows if each is not None], [each for each in highs if each is not None]
    if stood and turned and max(stood) >= min(turned):
        low = min(stood) if len(stood) == len(lows) else None
        return Threshold(low, max(turned) if len(turned) == len(highs) else None, How.STEPS)
    return Threshold(max(stood, default=None), min(turned, default=None), How.STEPS)


@dataclass(frozen=True)
class Lowest:
    """The lowest setting at which a fan was seen to turn as the setting fell [1] or [V], with its speed there [1/s]."""

    setting: float
    speed: float
    u: float


def lowest_running(several: Iterable[Leg]) -> Lowest | None:
    """The last setting that still turned, as the setting fell; None where no leg falls from where it turned."""
    response = joined([each for each in several if each.response.speeds[0] >= STANDS_STILL], falling=True)
    if response is None:
        return None
    running = response.speeds >= STANDS_STILL
    lowest = float(response.settings[running].min())
    at = running & (response.settings <= lowest + SAME)
    return Lowest(lowest, float(response.speeds[at].mean()), float(np.sqrt(np.mean(response.u[at] ** 2))))


def slowest_before(several: Iterable[Leg], lowest: Lowest, stop: Threshold) -> float | None:
    """The lowest speed that a fan may have had between the last setting that turned and that at which it stood.

    The line through its last two running settings, carried on to where it stood.

    Returns
    -------
    [1/s], at least 0.0; None where it never stood, or only one setting turned.
    """
    down = joined(several, falling=True)
    if stop.low is None or down is None:
        return None
    running = down.speeds >= STANDS_STILL
    above = np.unique(np.round(down.settings[running], 6))
    above = above[above > lowest.setting + SAME]
    if not len(above):
        return None
    slope = (_at(down, float(above[0])) - lowest.speed) / (float(above[0]) - lowest.setting)
    return max(0.0, lowest.speed - max(0.0, slope) * max(0.0, lowest.setting - stop.low))


SAME_SPEED = 0.03
"""Speeds that differ by less than this share of full speed are one minimum speed [1]."""


def behaviour(several: Sequence[Leg], full: float, *, goes_full: bool) -> Behaviour | None:
    """What a fan does at the low end; None where no falling settings were taken, or it was never seen to turn.

    Parameters
    ----------
    several : legs without the steps of `without_open_end`.
    full : full speed [1/s].
    goes_full : whether there were such steps.

    Source
    ------
    The types A (stays at minimum speed), B (the same, but off at 0 %) and C (stops) of the 4-Wire PWM Controlled Fans
    Specification, section 3.4.
    """
    down = joined(several, falling=True)
    if full < STANDS_STILL:
        return None  # it never turned: the tachometer reads nothing
    if goes_full:
        return Behaviour.FULL_AT_ZERO
    if down is None:
        return None
    order = np.argsort(down.settings, kind="stable")
    settings, speeds = down.settings[order], down.speeds[order]
    running = speeds >= STANDS_STILL
    if not running.all():
        off = settings[~running].max()
        level = _is_level(settings[running], speeds[running], full)
        return Behaviour.OFF_AT_ZERO if off <= NO_SIGNAL and level else Behaviour.STOPS
    return Behaviour.KEEPS_MINIMUM if _is_level(settings, speeds, full) else Behaviour.NEVER_STOPPED


def _is_level(settings: Array, speeds: Array, full: float) -> bool:
    """Whether the lowest two settings have one speed, though the setting differs."""
    distinct = np.unique(np.round(settings, 6))
    if len(distinct) < 2:
        return False
    first, second = (float(speeds[np.abs(settings - each) < SAME].mean()) for each in distinct[:2])
    change = float(distinct[1] - distinct[0]) / float(settings.max())
    return abs(second - first) < min(SAME_SPEED, 0.3 * change) * full


def hysteresis(up: Response, down: Response, full: float) -> tuple[float, float] | None:
    """The greatest difference between falling and rising at one setting where both turn, as a share of full speed,
    and that setting [1] or [V]; None where they have no such setting in common.
    """
    found = [
        (abs(_at(down, each) - _at(up, each)) / full, each)
        for each in np.unique(np.round(up.settings, 6)).tolist()
        if _turns(up, each) and _turns(down, each)
    ]
    return max(found, default=None)


def _here(response: Response, setting: float) -> Array:
    return response.speeds[np.abs(response.settings - setting) < 2.0 * SAME]


def _turns(response: Response, setting: float) -> bool:
    here = _here(response, setting)
    return bool(here.size and (here >= STANDS_STILL).all())


def _at(response: Response, setting: float) -> float:
    return float(_here(response, setting).mean())


def falls_back(several: Iterable[Leg], full: float) -> tuple[float, float] | None:
    """Two neighbouring settings between which the speed falls though the setting rises, by more than 3 % of full
    speed: the response is not monotonic there; None where it is everywhere.
    """
    for leg in several:
        order = np.argsort(leg.response.settings, kind="stable")
        settings, speeds = leg.response.settings[order], leg.response.speeds[order]
        for (low, slow), (high, fast) in pairwise(zip(settings.tolist(), speeds.tolist(), strict=True)):
            if high - low > SAME and fast < slow - SAME_SPEED * full:
                return low, high
    return None
